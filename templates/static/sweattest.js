// Reads a sweat test while it is typed. Limits come from the page's
// data-protocol, never from this file, and the server reads the test again
// before anything is saved. The page works without this script.
(function () {
  "use strict";
  var form = document.getElementById("test-form"), box = document.getElementById("reading");
  if (!form || !box || !form.getAttribute("data-protocol")) { return; }
  var p = JSON.parse(form.getAttribute("data-protocol")), facts = JSON.parse(form.getAttribute("data-facts")), timer, said = "";
  var el = function (id) { return document.getElementById(id); };
  var typed = function (id) { var f = el(id); return f ? f.value.trim() : ""; };
  var chosen = function (name) { var f = form.querySelector("input[name=" + name + "]:checked"); return f ? f.value : ""; };
  var FAULT = {}; // a value that the server would refuse
  var plain = function (v) { return String(Math.round(v * 1000) / 1000); };

  // A number as the server reads it: null when empty.
  var number = function (text) {
    if (text === "") { return null; }
    return /^[0-9]{1,9}([.,][0-9]{1,6})?$/.test(text) ? parseFloat(text.replace(",", ".")) : FAULT;
  };
  // A time of day in minutes: 09:40, 9:40, 0940, 9.40.
  var clock = function (text) {
    if (text === "") { return null; }
    var m = /^([0-9]{1,2})[:.]?([0-9]{2})$/.exec(text);
    return m && m[1] < 24 && m[2] < 60 ? m[1] * 60 + Number(m[2]) : FAULT;
  };
  // The day of the test as a count of days; null when this file cannot read it.
  var months = ["jan", "feb", "mar", "apr", "may", "jun", "jul", "aug", "sep", "oct", "nov", "dec"];
  var iso = function (text) {
    var m = /^(\d{4})-(\d{2})-(\d{2})$/.exec(text);
    return m ? Date.UTC(m[1], m[2] - 1, m[3]) / 864e5 : null;
  };
  var day = function () {
    var t = typed("on").toLowerCase().replace(/\s+/g, " "), m = /^(\d{1,2}) ([a-z]{3})[a-z]* (\d{4})$/.exec(t);
    if (t === "today") { return iso(facts.today); }
    if (t === "yesterday") { return iso(facts.today) - 1; }
    if (m && months.indexOf(m[2]) >= 0) { return Date.UTC(m[3], months.indexOf(m[2]), m[1]) / 864e5; }
    return iso(t);
  };
  // The minutes collected; null when they are not entered, FAULT when they do not fit.
  var collected = function (side) {
    var min = number(typed(side + "-minutes")), from = clock(typed(side + "-began")), to = clock(typed(side + "-ended")), span = null;
    if (min === FAULT || from === FAULT || to === FAULT || clock(typed(side + "-induced")) === FAULT) { return FAULT; }
    if (from !== null && to !== null) {
      span = to - from;
      if (span <= 0) { span += 1440; } // past midnight
      if (span > p.mostMinutes) { return FAULT; }
      if (min !== null && Math.abs(min - span) >= 1) { return FAULT; }
    }
    if (from !== null && clock(typed(side + "-induced")) > from) { return FAULT; }
    if (min === null) { min = span; }
    return min !== null && (min < 1 || min > p.mostMinutes) ? FAULT : min;
  };
  var needed = function (pad, minutes) {
    var base = pad ? p.minMg : p.minUl;
    if (minutes > p.baseMin || (p.scalesDown && minutes < p.baseMin)) { return base * minutes / p.baseMin; }
    return base;
  };
  // The amount in the collector's unit; FAULT in the other one's.
  var amount = function (side, unit) {
    var text = typed(side + "-amount"), m = /^(.*?)\s*(\u00b5l|\u03bcl|ul|mg)$/i.exec(text);
    if (m) {
      if ((m[2].toLowerCase() === "mg") !== (unit === "mg")) { return FAULT; }
      text = m[1].trim();
      if (text === "") { return FAULT; }
    }
    var v = number(text);
    return v !== null && v !== FAULT && v > p.mostAmount ? FAULT : v;
  };
  var keys = ["induced", "began", "ended", "minutes", "amount", "chloride", "again", "conductivity"];

  // Reads one arm: null when nothing is entered for it, else what there is, with
  // "wait" where the server would ask for more.
  var readArm = function (side, pad, chloride) {
    if (!keys.some(function (k) { return typed(side + "-" + k) !== ""; })) { return null; }
    var unit = pad ? "mg" : "\u00b5L", who = side === "left" ? "Left arm: " : "Right arm: ";
    var a = { side: side, lines: [], wait: false, usable: false, value: null }, say = function (t) { a.lines.push(who + t); };
    var ask = function (t) { say(t); a.wait = true; };
    var min = collected(side), v = amount(side, unit);
    if (min === null) { ask("minutes not entered yet."); } else if (min === FAULT) { ask("check the times and minutes."); }
    if (v === null) { ask("amount not entered yet."); } else if (v === FAULT) { ask("the amount must be a number in " + unit + ", up to " + p.mostAmount + "."); }
    var c = number(typed(side + "-chloride")), again = number(typed(side + "-again")), k = number(typed(side + "-conductivity"));
    if (c === FAULT || again === FAULT || c > p.mostChloride || k === FAULT || k > p.mostChloride) { ask("check the numbers in mmol/L."); }
    else if ((c === null) !== (again === null)) { ask("enter chloride twice."); }
    else if (c !== again) { ask("the two chloride entries differ (" + c + " and " + again + ")."); }
    else if (chloride && k !== null) { ask("remove the conductivity, or select Conductivity only."); }
    else if (!chloride && c !== null) { ask("remove the chloride, or select Chloride."); }
    if (a.wait) { return a; }
    var need = needed(pad, min), of = plain(v) + " " + unit;
    a.usable = v >= need - 1e-9; a.value = c; a.long = min > p.maxMin;
    if (!a.usable) { say(of + " is under " + plain(need) + " " + unit + ", so this arm is QNS." + (c === null ? "" : " Its chloride is not used.")); }
    else { say(of + " is enough. " + (c === null ? "No chloride yet." : "Chloride " + plain(c) + " mmol/L.")); }
    if (a.long) { say(plain(min) + " minutes, longer than " + p.maxMin + ". Evaporation can raise the value."); }
    return a;
  };
  var inCF = function (v) { return p.cfStrictlyAbove ? v > p.cfFrom : v >= p.cfFrom; };
  var lower = function (age) { return p.olderFromDays >= 0 && age >= p.olderFromDays ? p.olderIntermediateFrom : p.intermediateFrom; };
  var band = function (v, age) { return inCF(v) ? "consistent-with-cf" : v >= lower(age) ? "intermediate" : "unlikely"; };
  // The outcome of a complete test, with the deciding value and flags.
  var grade = function (arms, age) {
    var good = arms.filter(function (a) { return a.usable; }), vals = good.filter(function (a) { return a.value !== null; }).map(function (a) { return a.value; });
    var r = { outcome: "", deciding: null, flags: [], from: lower(age) };
    if (arms.length === 1 && p.bothArms) { r.flags.push("one-arm"); }
    if (arms.length === 2 && good.length === 1) { r.flags.push("one-arm-short"); }
    if (!good.length) { r.outcome = "qns"; return r; }
    var high = Math.max.apply(null, vals), low = Math.min.apply(null, vals), stands = facts.verified === "stands";
    if (!vals.length || (vals.length < good.length && !inCF(high))) { r.outcome = "not-resulted"; return r; }
    r.deciding = high;
    if (!stands && high > p.implausibleAbove) { r.outcome = "unverified"; return r; }
    if (vals.length === 2) {
      var apart = high - low > ((high + low) / 2 > p.agreeSplit ? p.agreeHigh : p.agreeLow);
      if (inCF(low)) { if (apart) { r.flags.push("arms-apart"); } }
      else if (apart && !stands) { r.outcome = "arms-disagree"; return r; }
      else if (!apart && band(high, age) !== band(low, age)) { r.flags.push("straddle"); }
    }
    r.outcome = band(high, age);
    return r;
  };
  var words = { "unlikely": "CF unlikely", "intermediate": "Intermediate", "consistent-with-cf": "In the CF range", "qns": "QNS", "arms-disagree": "Arms disagree",
    "unverified": "Value not plausible", "not-resulted": "No result yet", "screening-only": "Conductivity, screening only", "void": "Void, not counted" };
  var drops = { "unlikely": "low", "intermediate": "mid", "consistent-with-cf": "high", "qns": "qns" };
  var notes = { "one-arm": "Only one arm is entered. The protocol asks for both.", "arms-apart": "The arms are far apart. The reading stands; look at the technique.",
    "straddle": "The arms lie in different classes within the agreement limit. The higher arm counts.", "collection-long": "" };

  var read = function () {
    var kind = chosen("collector"), chloride = chosen("analyte") !== "conductivity", on = day(), lines = [];
    if (!kind) { return show("", ["Choose the collector first. The unit of the amount follows from it."]); }
    if (!chosen("analyte")) { return show("", ["Choose what was measured."]); }
    var arms = ["left", "right"].map(function (s) { return readArm(s, kind === "pad", chloride); }).filter(Boolean);
    arms.forEach(function (a) { lines = lines.concat(a.lines); });
    if (!arms.length) { return show("", ["No arm is entered yet."]); }
    if (arms.some(function (a) { return a.wait; })) { return show("", lines); }
    var shifted = facts.shifts.some(function (d) { return on === iso(d) || on === iso(d) - 1; });
    if (shifted && (typed("left-began") || typed("right-began"))) { return show("", lines.concat(["The clocks were changed that day. The next page reads the times."])); }
    if (on === null && p.olderFromDays >= 0) { return show("", lines.concat(["The day cannot be read here. The next page reads it."])); }
    var r = grade(arms, on === null ? 0 : on - iso(facts.born));
    if (arms.some(function (a) { return a.long; })) { r.flags.push("collection-long"); }
    if (!chloride) { r.outcome = "screening-only"; r.deciding = null; r.flags = r.flags.filter(function (f) { return f === "one-arm" || f === "collection-long"; }); }
    if (facts.verified === "void") { r.outcome = "void"; r.deciding = null; r.flags = r.flags.filter(function (f) { return f !== "arms-apart" && f !== "straddle"; }); }
    r.flags.forEach(function (f) { if (notes[f]) { lines.push(notes[f]); } });
    if (r.outcome === "unverified") { lines.push("Above " + p.implausibleAbove + " mmol/L. Read it again from the laboratory sheet."); }
    show(r.outcome, lines, r, arms);
  };
  // The values of the usable arms on a scale with both limits. Hidden from screen
  // readers: the lines under it say the same.
  var put = function (g, name, attrs, text) {
    var n = document.createElementNS("http://www.w3.org/2000/svg", name);
    Object.keys(attrs).forEach(function (k) { n.setAttribute(k, attrs[k]); });
    if (text) { n.textContent = text; }
    g.appendChild(n);
  };
  var scale = function (r, arms) {
    var svg = el("reading-scale"), g = svg.querySelector("g"), most = 2 * p.cfFrom;
    var at = function (v) { return 10 + 300 * Math.min(v, most) / most; };
    g.textContent = "";
    var shown = arms.filter(function (a) { return a.usable && a.value !== null; });
    svg.toggleAttribute("hidden", !r || !shown.length);
    if (svg.hasAttribute("hidden")) { return; }
    [r.from, p.cfFrom].forEach(function (v) { put(g, "path", { d: "M" + at(v) + " 32V54" }); put(g, "text", { x: at(v), y: 70 }, plain(v)); });
    shown.forEach(function (a) {
      var x = at(a.value), end = shown.length === 2 && Math.abs(shown[0].value - shown[1].value) < most / 6;
      put(g, "path", { "class": "arm-mark", d: "M" + (x - 6) + " 20h12l-6 16z" });
      put(g, "text", { x: Math.max(18, Math.min(302, end ? x + (a === shown[0] ? -16 : 16) : x)), y: 14 }, a.side === "left" ? "Left" : "Right");
    });
  };
  var show = function (outcome, lines, r, arms) {
    scale(outcome ? r : null, arms || []);
    var head = outcome ? words[outcome] : "Not complete yet";
    if (drops[outcome] && r.deciding !== null) { head = "Chloride " + plain(r.deciding) + " mmol/L: " + head; }
    box.setAttribute("data-outcome", outcome);
    box.setAttribute("data-deciding", r && r.deciding !== null ? String(r.deciding) : "");
    box.setAttribute("data-flags", r ? r.flags.slice().sort().join(" ") : "");
    el("reading-head").textContent = head;
    el("reading-drop").setAttribute("href", "#drop-" + (drops[outcome] || "none"));
    var ul = el("reading-lines"); ul.textContent = "";
    lines.forEach(function (t) { var li = document.createElement("li"); li.textContent = t; ul.appendChild(li); });
    clearTimeout(timer);
    timer = setTimeout(function () {
      var text = head + ". " + lines.join(" ");
      if (text !== said && el("say")) { said = text; el("say").textContent = text; }
    }, 900);
  };

  // The unit beside an amount is the collector's; a site that works with one collector
  // sets it, until a person chooses. Conductivity is asked for only where it is measured.
  var touched = false;
  var suit = function () {
    var kind = chosen("collector"), screening = chosen("analyte") === "conductivity";
    form.querySelectorAll(".by-collector").forEach(function (u) { u.textContent = kind === "pad" ? "mg" : kind ? "\u00b5L" : "\u00b5L or mg"; });
    form.querySelectorAll("[data-screening]").forEach(function (d) { d.hidden = !screening && !d.classList.contains("bad") && d.querySelector("input").value === ""; });
  };
  form.addEventListener("change", function (e) {
    if (e.target.name === "collector") { touched = true; }
    var kind = e.target.name === "site" && !touched ? facts.kinds[e.target.value] : "";
    var f = kind ? form.querySelector("input[name=collector][value=" + kind + "]") : null;
    if (f) { f.checked = true; }
    suit(); read();
  });
  form.addEventListener("input", read);
  box.hidden = false;
  suit(); read();
}());
