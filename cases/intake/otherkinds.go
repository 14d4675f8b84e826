package intake

import (
	"bytes"
	"strings"
)

// otherKind names a document of a form that is known and not read here; "" for
// others.
func otherKind(raw []byte) string {
	head := raw
	if conv, was := FromUTF16(head); was {
		head = conv
	}
	head = bytes.TrimPrefix(head, []byte("\xEF\xBB\xBF"))
	head = bytes.TrimLeft(head[:min(len(head), 4<<10)], " \t\r\n")
	low := strings.ToLower(string(head))
	switch {
	case strings.HasPrefix(low, "<!doctype html"), strings.HasPrefix(low, "<html"):
		return "This is a web page, which is not read here." + look
	case strings.HasPrefix(low, "<?xml"), strings.HasPrefix(low, "<") && strings.Contains(low, "xmlns"):
		return "This is an XML document; only HL7 version 2 with its bars and line lists (CSV) are read here. Ask the sender for one of these, or enter a referral by hand if it is one."
	case (strings.HasPrefix(low, "{") || strings.HasPrefix(low, "[")) && strings.Contains(low, `"resourcetype"`):
		return "This is a FHIR document; only HL7 version 2 and line lists (CSV) are read here. Ask the sender for one of these, or enter a referral by hand if it is one."
	case strings.HasPrefix(low, "{") && strings.Contains(low, `":`), strings.HasPrefix(low, "[{"), strings.HasPrefix(low, "{ "), strings.HasPrefix(low, "{\n"):
		return "This is a JSON document, which is not read here." + look
	}
	return ""
}
