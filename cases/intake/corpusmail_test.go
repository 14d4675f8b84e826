package intake_test

import (
	"encoding/base64"
	"strings"
)

func eml(headings []string, body ...string) string {
	return strings.Join(append(append([]string{"From: Alder Bay Laboratory <lab@alderbay.example>", "To: cf@dunlin.example", "Date: Fri, 20 Mar 2026 10:15:00 -0500",
		"Message-ID: <one@alderbay.example>"}, headings...), append([]string{""}, body...)...), "\r\n") + "\r\n"
}

func attached(name, kind, data string) []string {
	return []string{"--b", "Content-Type: " + kind + "; name=\"" + name + "\"", "Content-Disposition: attachment; filename=\"" + name + "\"",
		"Content-Transfer-Encoding: base64", "", base64.StdEncoding.EncodeToString([]byte(data))}
}

func mixed(parts ...[]string) string {
	body := []string{"--b", "Content-Type: text/plain; charset=utf-8", "", "See the attached file.", ""}
	for _, p := range parts {
		body = append(body, p...)
	}
	return eml([]string{"Subject: Newborn screens", "MIME-Version: 1.0", `Content-Type: multipart/mixed; boundary="b"`}, append(body, "--b--")...)
}

// mailSamples: mails (RFC 5322) with and without attachments, saved as files.
func mailSamples() []sample {
	out, in := panel(130, interp(aOut)), panel(131, interp(aIn))
	return []sample{
		{id: "mail-text", raw: eml([]string{"Subject: Infant", "Content-Type: text/plain"}, "The cystic fibrosis screen of Piper Saltmarsh was out of range."), want: "review"},
		{id: "mail-no-subject-no-type", raw: eml(nil, "Please call us."), want: "review"},
		{id: "mail-empty-body", raw: eml([]string{"Subject: x"}, ""), want: "review"},
		{id: "mail-hl7-out", raw: mixed(attached("a.hl7", "application/hl7-v2", out)), want: "opened"},
		{id: "mail-hl7-in-range", raw: mixed(attached("a.hl7", "application/hl7-v2", in)), want: "no-case"},
		{id: "mail-hl7-two", raw: mixed(attached("a.hl7", "application/octet-stream", out), attached("b.txt", "text/plain", in)), want: "opened no-case"},
		{id: "mail-csv", raw: mixed(attached("list.csv", "text/csv", list(listHead, "AB100,Alderman,Wren,2026-03-02,F,Out of range,118.4,,"))), want: "opened"},
		{id: "mail-pdf", raw: mixed(attached("report.pdf", "application/pdf", "%PDF-1.7\nx")), want: "review", says: []string{"PDF"}},
		{id: "mail-zip", raw: mixed(attached("a.zip", "application/zip", "PK\x03\x04....F0001.hl7")), want: "review", says: []string{"packed"}},
		{id: "mail-hl7-and-pdf", raw: mixed(attached("a.hl7", "application/hl7-v2", out), attached("report.pdf", "application/pdf", "%PDF-1.7\nx")), want: "opened review"},
		{id: "mail-evil-name", raw: mixed(attached("..\\..\\x\u202etxt.hl7", "application/hl7-v2", out)), want: "opened"},
		{id: "mail-html-only", raw: eml([]string{"Subject: x", "Content-Type: text/html"}, "<p>CF <b>out of range</b></p>"), want: "review"},
		{id: "mail-hl7-pasted", raw: eml([]string{"Subject: x", "Content-Type: text/plain; charset=utf-8"}, strings.ReplaceAll(out, "\r", "\r\n")), want: "opened|review"},
		{id: "mail-hl7-quoted", raw: eml([]string{"Subject: Fwd: x", "Content-Type: text/plain"}, "> "+strings.ReplaceAll(out, "\r", "\r\n> ")), want: "review"},
		{id: "mail-broken-multipart", raw: eml([]string{"Subject: x", `Content-Type: multipart/mixed; boundary="b"`}, "no boundary at all"), want: "review"},
		{id: "mail-no-end-boundary", raw: strings.TrimSuffix(mixed(attached("a.hl7", "application/hl7-v2", out)), "--b--\r\n"), want: "opened|review"},
		{id: "mail-control-in-subject", raw: eml([]string{"Subject: =?utf-8?B?G1szMW1PdXQgb2YgcmFuZ2XigK4=?="}, "x"), want: "review"},
		{id: "mail-lf-line-ends", raw: strings.ReplaceAll(mixed(attached("a.hl7", "application/hl7-v2", out)), "\r\n", "\n"), want: "opened"},
	}
}
