package templates

func init() {
	samples["open-for-reason"] = func() Page {
		return &OpenForReasonPage{Base: sampleBase("Open AB-2026-0042 for a reason", ""), Reference: "AB-2026-0042", Action: "/infants/AB-2026-0042/open", Minutes: 60,
			Reason: Field{ID: "reason", Label: "Why do you need to see this infant?", Hint: "Who asked, and what for.", Kind: "area", Rows: 3}}
	}
}
