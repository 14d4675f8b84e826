package intake

import "dunlin/cases"

func (p *placer) addSweat(it *Item, item *cases.Item, c cases.Case, force bool) error {
	item.Reasons = siteLines(&it.Referral)
	return nil
}
