package rulewire

import (
	"math"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"google.golang.org/genproto/googleapis/type/date"
)

// EncodeTable writes a table. A row whose effect is not of this program's kinds
// is written without an effect, which DecodeTable refuses.
func EncodeTable(t *rules.Table) *pb.Table {
	table := &pb.Table{Manifest: EncodeManifest(&t.Manifest)}
	for i := range t.Rows {
		table.Rows = append(table.Rows, encodeRow(&t.Rows[i]))
	}
	for i := range t.Cases {
		table.Cases = append(table.Cases, encodeCase(&t.Cases[i]))
	}
	return table
}

// EncodeManifest writes a manifest.
func EncodeManifest(m *rules.Manifest) *pb.Manifest {
	return &pb.Manifest{
		RuleSetId: m.ID,
		Version:   m.Version,
		Title:     m.Title,
		Publisher: m.Publisher,
		Layer:     Encode[commonv1.Layer](m.Layer),
		Scope:     m.Scope,
		ValidFrom: EncodeDate(m.ValidFrom),
		ValidTo:   EncodeDate(m.ValidTo),
		ReviewBy:  EncodeDate(m.ReviewBy),
	}
}

// EncodeRef writes the name of a rule set.
func EncodeRef(r rules.Ref) *commonv1.RuleSetRef {
	to := &commonv1.RuleSetRef{}
	FillRef(to, &r)
	return to
}

// FillRef writes the name of a rule set into a message.
func FillRef(to *commonv1.RuleSetRef, r *rules.Ref) {
	to.RuleSetId, to.Version, to.Digest, to.Layer = r.ID, r.Version, r.Digest, Encode[commonv1.Layer](r.Layer)
}

// EncodeDate writes a date, and nothing for no date.
func EncodeDate(d civil.Date) *date.Date {
	if !d.Known() {
		return nil
	}
	year, month, day := d.Parts()
	return &date.Date{Year: int32(year), Month: int32(month), Day: int32(day)}
}

func encodeRow(r *rules.Row) *pb.Row {
	return &pb.Row{
		RuleId:     r.ID,
		Purpose:    r.Purpose,
		Citation:   r.Citation,
		ValidFrom:  EncodeDate(r.ValidFrom),
		ValidTo:    EncodeDate(r.ValidTo),
		When:       encodeSelector(&r.When),
		Unless:     encodeUnless(r.Unless),
		During:     encodeDuring(r.During),
		Supersedes: r.Supersedes,
		Effect:     encodeEffect(r.Effect),
	}
}

func encodeUnless(selectors []rules.Selector) []*pb.Selector {
	var list []*pb.Selector
	for i := range selectors {
		list = append(list, encodeSelector(&selectors[i]))
	}
	return list
}

func encodeDuring(w civil.Window) *pb.Window {
	if w == (civil.Window{}) {
		return nil
	}
	return encodeWindow(w)
}

func encodeSelector(s *rules.Selector) *pb.Selector {
	return &pb.Selector{
		Species:       s.Species,
		Actives:       s.Actives,
		Suckering:     encodeSet[commonv1.Suckering](s.Suckering),
		Forms:         encodeSet[commonv1.GrowthForm](s.Forms),
		Methods:       encodeSet[commonv1.Method](s.Methods),
		Equipment:     encodeSet[commonv1.Equipment](s.Equipment),
		Formulations:  encodeSet[commonv1.FormulationKind](s.Formulations),
		SoilActivity:  encodeSet[commonv1.SoilActivity](s.SoilActivity),
		AquaticLabel:  encodeSet[commonv1.AquaticLabel](s.AquaticLabel),
		RestrictedUse: encodeSet[commonv1.RestrictedUse](s.RestrictedUse),
		Toxicity:      encodeSet[commonv1.ToxicityCategory](s.Toxicity),
		Droplets:      encodeSet[commonv1.Droplet](s.Droplets),
		LandUses:      encodeSet[commonv1.LandUse](s.LandUses),
		Soil:          encodeSet[commonv1.SoilState](s.Soil),
		Bark:          encodeSet[commonv1.BarkState](s.Bark),
		Desirable:     encodeSet[commonv1.Desirable](s.Desirable),
		Ranges:        encodeRanges(s.Ranges),
		DriftControl:  encodeSet[commonv1.DriftControl](s.DriftControl),
	}
}

func encodeRanges(ranges []rules.Range) []*pb.Range {
	var list []*pb.Range
	for _, r := range ranges {
		p := &pb.Range{Measure: Encode[commonv1.Measure](r.Of), MinOpen: r.MinOpen, MaxOpen: r.MaxOpen}
		if r.Min != math.MinInt64 {
			p.Min = &r.Min
		}
		if r.Max != math.MaxInt64 {
			p.Max = &r.Max
		}
		list = append(list, p)
	}
	return list
}

func encodeCase(c *rules.Case) *pb.Case {
	return &pb.Case{
		Name:      c.Name,
		On:        EncodeDate(c.On),
		Treatment: EncodeTreatment(&c.Treatment),
		Site:      EncodeSurroundings(&c.Site),
		Want:      EncodeDecision(c.Want),
		By:        c.By,
	}
}

// EncodeTreatment writes a treatment.
func EncodeTreatment(t *rules.Treatment) *pb.Treatment {
	return &pb.Treatment{
		Species:         t.Species,
		Suckering:       Encode[commonv1.Suckering](t.Suckering),
		Method:          Encode[commonv1.Method](t.Method),
		Equipment:       Encode[commonv1.Equipment](t.Equipment),
		Active:          t.Active,
		Formulation:     Encode[commonv1.FormulationKind](t.Formulation),
		SoilActivity:    Encode[commonv1.SoilActivity](t.SoilActivity),
		AquaticLabel:    Encode[commonv1.AquaticLabel](t.AquaticLabel),
		RestrictedUse:   Encode[commonv1.RestrictedUse](t.RestrictedUse),
		Toxicity:        Encode[commonv1.ToxicityCategory](t.Toxicity),
		Droplet:         Encode[commonv1.Droplet](t.Droplet),
		ReleaseHeightUm: int64(t.ReleaseHeight),
		LandUse:         Encode[commonv1.LandUse](t.LandUse),
		Standing:        Encode[commonv1.Standing](t.Standing),
		NoHerbicide:     t.NoHerbicide,
		DriftControl:    Encode[commonv1.DriftControl](t.DriftControl),
		Categories:      encodeSet[commonv1.CertificationCategory](t.Categories),
		CarrierMlPerHa:  t.CarrierMlPerHa,
		DosePermille:    t.DosePermille,
		Granted:         t.Granted,
	}
}

// EncodeSurroundings writes what is known of one stem.
func EncodeSurroundings(s *rules.Surroundings) *pb.Surroundings {
	site := &pb.Surroundings{
		Form:      Encode[commonv1.GrowthForm](s.Form),
		Soil:      Encode[commonv1.SoilState](s.Soil),
		Bark:      Encode[commonv1.BarkState](s.Bark),
		Desirable: Encode[commonv1.Desirable](s.Desirable),
	}
	for _, q := range rules.Words[rules.Measure]() {
		if v, known := s.Measures.Get(q); known {
			site.Measures = append(site.Measures, &pb.Measured{Measure: Encode[commonv1.Measure](q), Value: v})
		}
	}
	for _, c := range rules.Words[rules.WaterClass]() {
		if d, known := s.Water.Get(c); known {
			site.Water = append(site.Water, &pb.MeasuredWater{
				WaterClass: Encode[commonv1.WaterClass](c),
				DistanceUm: int64(d.Distance),
				Origin:     Encode[commonv1.DistanceOrigin](d.Origin),
				AtLeast:    d.AtLeast,
				State:      Encode[commonv1.WaterState](d.State),
			})
		}
	}
	for _, c := range rules.Words[rules.PlaceClass]() {
		if d, known := s.Places.Get(c); known {
			site.Places = append(site.Places, &pb.MeasuredPlace{
				PlaceClass: Encode[commonv1.PlaceClass](c), DistanceUm: int64(d.Distance), AtLeast: d.AtLeast,
			})
		}
	}
	return site
}
