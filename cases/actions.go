package cases

// actions lists what somebody should do besides the next step; none once closed
// or died.
func (s *state) actions() Actions {
	if s.cl.standing != nil || s.c.died(s.on) {
		return 0
	}
	e, p := &s.e, s.p
	var a Actions
	when := func(ok bool, act Actions) {
		if ok {
			a |= act
		}
	}
	sequenced := e.genotype.Reported && e.genotype.Scope == "sequencing"
	when(s.r.primary == 0, ActTellPrimary)
	when(e.presumptive() && s.r.specialist == 0, ActReferSpecialist)
	when(e.presumptive() && s.r.family == 0, ActCallToday)
	when(!e.genotype.Reported, ActOrderGenotype)
	when((e.provisional || s.sup.Has(SupCF) && e.genotype.Alleles.CFCausing < 2) && !sequenced, ActOrderGenotype)
	if e.qns >= p.QNSEscalateAfter && e.ngraded == 0 {
		a |= ActConsiderElastase | ActTellSupervisor
		when(!sequenced, ActOrderGenotype)
	}
	when(s.firstCollection() == 0 && s.on-s.c.Infant.Born >= Day(p.AlertUntestedDays), ActTellSupervisor)
	when(s.conductivityOpen(), ActQuantitativeChloride)
	for i := range e.tests {
		t := &e.tests[i]
		when(t.Outcome == Unverified, ActVerifyValue)
		for j := range t.Test.Arms {
			arm := &t.Test.Arms[j]
			when(arm.Hurt() && (arm.ReportedOn == 0 || arm.ReportedOn > s.on), ActReportReaction)
		}
	}
	when(e.misfit, ActConfirmIdentity)
	when(e.genotype.PolyT, ActOrderPolyT)
	when(s.sup.Has(SupCarrier), ActOfferCounselling)
	when(s.sup.Has(SupCRMS), ActScheduleRetests)
	w := e.ready.Weight.State
	when((w == WeightShort || w == WeightUnknown) && e.graded == nil, ActReweigh)
	when(s.cl.proposed != nil, ActAgreeClosing)
	when(s.c.addressBad(), ActFindAddress)
	return a
}

// conductivityOpen tells a conductivity test with no chloride test after it.
func (s *state) conductivityOpen() bool {
	n := len(s.e.tests)
	return n > 0 && s.e.tests[n-1].Outcome == ScreeningOnly
}

// addressBad tells that mail came back from the address to which the family's letters go
// and no other is on record for them.
func (c *Case) addressBad() bool {
	bad := false
	for _, a := range c.addresses(ToFamily) {
		if a.good() {
			return false
		}
		bad = bad || a != nil && a.Bad
	}
	return bad
}
