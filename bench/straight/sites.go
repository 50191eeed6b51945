package straight

import (
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/quantity"
)

// Sites makes the sites of an inventory, by id.
func Sites(begin *treatmentv1.StreamBegin, places map[string]int64) map[string]*Site {
	sites := map[string]*Site{}
	for _, s := range begin.GetSites() {
		sites[s.GetSiteId()] = NewSite(places[s.GetSiteId()], quantity.SquareMetres(s.GetAreaM2()))
	}
	return sites
}
