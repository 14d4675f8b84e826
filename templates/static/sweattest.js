// Reads a sweat test while it is typed. Limits come from the page's
// data-protocol, never from this file, and the server reads the test again
// before anything is saved. The page works without this script.
(function () {
  "use strict";
  var form = document.getElementById("test-form"), box = document.getElementById("reading");
  if (!form || !box || !form.getAttribute("data-protocol")) { return; }
  var p = JSON.parse(form.getAttribute("data-protocol")), timer, said = "";
  var el = function (id) { return document.getElementById(id); };
  var num = function (id) {
    var f = el(id), v = f ? f.value.trim().replace(",", ".") : "";
    if (v === "") { return null; }
    v = v.replace(/\s*(µl|ul|mg|mmol\/l|min)$/i, "");
    return /^\d+(\.\d+)?$/.test(v) ? parseFloat(v) : NaN;
  };
  var clock = function (id) {
    var f = el(id), m = f ? /^(\d{1,2}):(\d{2})$/.exec(f.value.trim()) : null;
    return m ? m[1] * 60 + Number(m[2]) : null;
  };
  var needed = function (pad, minutes) {
    var base = pad ? p.minMg : p.minUl;
    if (minutes === null || isNaN(minutes)) { return base; }
    if (minutes > p.baseMin || (p.scalesDown && minutes < p.baseMin)) { return base * minutes / p.baseMin; }
    return base;
  };
  var read = function () {
    var chosen = form.querySelector("input[name=collector]:checked");
    var lines = [], good = [], complete = true, any = false;
    if (!chosen) { show("Not complete yet", ["Choose the collector first. The unit of the amount follows from it."], "none"); return; }
    var pad = chosen.value === "pad", unit = pad ? "mg" : "\u00b5L";
    ["left", "right"].forEach(function (side) {
      var who = side === "left" ? "Left arm: " : "Right arm: ";
      var amount = num(side + "-amount"), c1 = num(side + "-chloride"), c2 = num(side + "-again"), minutes = num(side + "-minutes");
      if (minutes === null && clock(side + "-began") !== null && clock(side + "-ended") !== null) { minutes = clock(side + "-ended") - clock(side + "-began"); }
      if (amount === null) { lines.push(who + "amount not entered yet."); complete = false; return; }
      any = true;
      if (isNaN(amount)) { lines.push(who + "the amount must be a number."); complete = false; return; }
      var need = needed(pad, minutes);
      if (amount < need) { lines.push(who + amount + " " + unit + " is under " + need + " " + unit + ", so this arm is QNS."); return; }
      if (c1 === null && c2 === null) { lines.push(who + amount + " " + unit + " is enough. No chloride yet."); complete = false; return; }
      if (c1 === null || c2 === null || isNaN(c1) || isNaN(c2)) { lines.push(who + "enter chloride twice."); complete = false; return; }
      if (c1 !== c2) { lines.push(who + "the two chloride entries differ (" + c1 + " and " + c2 + ")."); complete = false; return; }
      lines.push(who + amount + " " + unit + " is enough. Chloride " + c1 + " mmol/L."); good.push(c1);
    });
    if (!complete || !any) { show("Not complete yet", lines, "none"); return; }
    if (!good.length) { show("QNS", lines, "qns"); return; }
    var high = Math.max.apply(null, good), low = Math.min.apply(null, good);
    var cf = function (v) { return p.cfStrictlyAbove ? v > p.cfFrom : v >= p.cfFrom; };
    if (high > p.implausibleAbove) { show("Value not plausible", lines.concat(["Above " + p.implausibleAbove + " mmol/L. Check the laboratory sheet."]), "none"); return; }
    if (good.length === 2 && !cf(low) && high - low > ((high + low) / 2 > p.agreeSplit ? p.agreeHigh : p.agreeLow)) { show("Arms disagree", lines, "none"); return; }
    if (cf(high)) { show("Chloride " + high + " mmol/L: In the CF range", lines, "high"); return; }
    if (high >= p.intermediateFrom) { show("Chloride " + high + " mmol/L: Intermediate", lines, "mid"); return; }
    show("Chloride " + high + " mmol/L: CF unlikely", lines, "low");
  };
  var show = function (head, lines, drop) {
    el("reading-head").textContent = head;
    el("reading-drop").setAttribute("href", "#drop-" + drop);
    var ul = el("reading-lines"); ul.textContent = "";
    lines.forEach(function (t) { var li = document.createElement("li"); li.textContent = t; ul.appendChild(li); });
    clearTimeout(timer);
    timer = setTimeout(function () {
      var text = head + ". " + lines.join(" ");
      if (text !== said && el("say")) { said = text; el("say").textContent = text; }
    }, 900);
  };
  box.hidden = false;
  form.addEventListener("input", read);
  form.addEventListener("change", read);
  read();
}());
