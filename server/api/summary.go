package api

import (
	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

func writeMixes(list []treatment.Mix) []*treatmentv1.Mix {
	return writeEach(list, func(to *treatmentv1.Mix, m *treatment.Mix) {
		*to = treatmentv1.Mix{
			Method: rulewire.Encode[commonv1.Method](m.Method), FormulationId: m.Formulation.ID,
			Formulation: m.Formulation.Name, Carrier: string(m.Recipe.Carrier),
			Rows: m.Rows, Stems: m.Stems, MixL: m.Mix.Litres(), AeG: m.AE.Grams(),
			Loads: m.Loads, FullLoad: writeLoad(&m.Full), LastLoad: writeLoad(&m.Last),
		}
	})
}

// writeLoad writes a load, and nothing where there is none.
func writeLoad(l *treatment.Load) *treatmentv1.Load {
	if l.Mix == 0 {
		return nil
	}
	return &treatmentv1.Load{
		MixGal: l.Mix.Gallons(), ProductMl: l.Product.Millilitres(), ProductFlOz: l.ProductUS.FluidOunces(),
		CarrierGal: l.Carrier.Gallons(), CarrierL: l.Carrier.Litres(),
		AdjuvantMl: l.Adjuvant.Millilitres(), DyeMl: l.Dye.Millilitres(),
	}
}

func writePurchases(list []treatment.Purchase) []*treatmentv1.Purchase {
	return writeEach(list, func(to *treatmentv1.Purchase, p *treatment.Purchase) {
		*to = treatmentv1.Purchase{
			ItemId: p.Item, Item: p.Name, NeededL: p.Needed.Litres(), SpareL: p.Spare.Litres(),
			ContainerGal: p.Container.Gallons(), Containers: p.Containers, SurplusL: p.Surplus.Litres(),
		}
	})
}
