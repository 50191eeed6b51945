package rulewire

import (
	"cmp"
	"fmt"
	"math"
	"time"

	pb "example.org/rootward/proto/gen/rootward/ruletable/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"google.golang.org/genproto/googleapis/type/date"
)

// DecodeTable reads a table. Its error is a rules.Faults with everything that
// cannot be read, by row. A table that was read is not yet valid: rules.NewSet
// says whether it is.
func DecodeTable(p *pb.Table) (rules.Table, error) {
	r := &reader{row: "manifest"}
	if p == nil {
		r.row = ""
		r.add("table", "is missing")
		return rules.Table{}, r.err()
	}
	t := rules.Table{Manifest: r.manifest(p.GetManifest())}
	r.row = "table"
	r.noUnknown("table", p.ProtoReflect(), "manifest", "rows", "cases")
	for i, row := range p.GetRows() {
		r.row = cmp.Or(row.GetRuleId(), fmt.Sprintf("row %d", i+1))
		t.Rows = append(t.Rows, r.tableRow(row))
	}
	for i, c := range p.GetCases() {
		r.row = "case " + cmp.Or(c.GetName(), fmt.Sprint(i+1))
		t.Cases = append(t.Cases, r.workedCase(c))
	}
	return t, r.err()
}

// DecodeTreatment reads a treatment. Its error is a rules.Faults, by field.
func DecodeTreatment(p *pb.Treatment) (rules.Treatment, error) {
	r := &reader{}
	t := r.treatment(p)
	r.noUnknown("treatment", p.ProtoReflect())
	return t, r.err()
}

// DecodeSurroundings reads what is known of one stem. Its error is a
// rules.Faults, by field.
func DecodeSurroundings(p *pb.Surroundings) (rules.Surroundings, error) {
	r := &reader{}
	s := r.surroundings(p)
	r.noUnknown("site", p.ProtoReflect())
	return s, r.err()
}

// DecodeDate reads a date; no date gives zero. A date without a year, a month or
// a day, or one that is not in the calendar, is an error.
func DecodeDate(p *date.Date) (civil.Date, error) {
	if p == nil {
		return 0, nil
	}
	year, month, day := p.GetYear(), p.GetMonth(), p.GetDay()
	if year < 1 || year > 9999 {
		return 0, fmt.Errorf("year %d is not 1 to 9999", year)
	}
	d := civil.Of(int(year), time.Month(month), int(day))
	if y, m, dd := d.Parts(); y != int(year) || m != time.Month(month) || dd != int(day) {
		return 0, fmt.Errorf("year %d, month %d, day %d is not a day of the calendar", year, month, day)
	}
	return d, nil
}

func (r *reader) date(field string, p *date.Date) civil.Date {
	d, err := DecodeDate(p)
	if err != nil {
		r.add(field, "%s", err)
	}
	return d
}

func (r *reader) manifest(p *pb.Manifest) rules.Manifest {
	if p == nil {
		r.add("manifest", "is missing")
		return rules.Manifest{}
	}
	r.noUnknown("manifest", p.ProtoReflect())
	return rules.Manifest{
		ID:        p.GetRuleSetId(),
		Version:   p.GetVersion(),
		Title:     p.GetTitle(),
		Publisher: p.GetPublisher(),
		Layer:     word[rules.Layer](r, "layer", p.GetLayer()),
		Scope:     p.GetScope(),
		ValidFrom: r.date("valid_from", p.GetValidFrom()),
		ValidTo:   r.date("valid_to", p.GetValidTo()),
		ReviewBy:  r.date("review_by", p.GetReviewBy()),
	}
}

func (r *reader) tableRow(p *pb.Row) rules.Row {
	r.noUnknown("row", p.ProtoReflect())
	return rules.Row{
		ID:         p.GetRuleId(),
		Purpose:    p.GetPurpose(),
		Citation:   p.GetCitation(),
		ValidFrom:  r.date("valid_from", p.GetValidFrom()),
		ValidTo:    r.date("valid_to", p.GetValidTo()),
		When:       r.selector("when", alone, p.GetWhen()),
		Unless:     r.unless(p.GetUnless()),
		During:     r.during(p.GetDuring()),
		Supersedes: some(p.GetSupersedes()),
		Effect:     r.effect(p.GetEffect()),
	}
}

func (r *reader) unless(list []*pb.Selector) []rules.Selector {
	var selectors []rules.Selector
	for i, p := range list {
		selectors = append(selectors, r.selector("unless", i, p))
	}
	return selectors
}

// during reads the part of the year in which a row applies; none is all of it.
func (r *reader) during(p *pb.Window) civil.Window {
	if p == nil {
		return civil.Window{}
	}
	return r.window("during", p)
}

func (r *reader) selector(field string, index int, p *pb.Selector) rules.Selector {
	r.enter(field, index)
	defer r.leave()
	return rules.Selector{
		Species:       some(p.GetSpecies()),
		Actives:       some(p.GetActives()),
		Suckering:     set[rules.Suckering](r, "suckering", p.GetSuckering()),
		Forms:         set[rules.GrowthForm](r, "forms", p.GetForms()),
		Methods:       set[rules.Method](r, "methods", p.GetMethods()),
		Equipment:     set[rules.Equipment](r, "equipment", p.GetEquipment()),
		Formulations:  set[rules.FormulationKind](r, "formulations", p.GetFormulations()),
		SoilActivity:  set[rules.SoilActivity](r, "soil_activity", p.GetSoilActivity()),
		AquaticLabel:  set[rules.AquaticLabel](r, "aquatic_label", p.GetAquaticLabel()),
		RestrictedUse: set[rules.RestrictedUse](r, "restricted_use", p.GetRestrictedUse()),
		Toxicity:      set[rules.ToxicityCategory](r, "toxicity", p.GetToxicity()),
		Droplets:      set[rules.Droplet](r, "droplets", p.GetDroplets()),
		LandUses:      set[rules.LandUse](r, "land_uses", p.GetLandUses()),
		Soil:          set[rules.SoilState](r, "soil", p.GetSoil()),
		Bark:          set[rules.BarkState](r, "bark", p.GetBark()),
		Desirable:     set[rules.Desirable](r, "desirable", p.GetDesirable()),
		Ranges:        r.ranges(p.GetRanges()),
		DriftControl:  set[rules.DriftControl](r, "drift_control", p.GetDriftControl()),
	}
}

func (r *reader) ranges(list []*pb.Range) []rules.Range {
	var ranges []rules.Range
	for i, p := range list {
		p = cmp.Or(p, &pb.Range{})
		r.enter("ranges", i)
		of := word[rules.Measure](r, "measure", p.GetMeasure())
		r.leave()
		v := rules.Range{
			Of: of, Min: math.MinInt64, Max: math.MaxInt64,
			MinOpen: p.GetMinOpen(), MaxOpen: p.GetMaxOpen(),
		}
		if p.Min != nil {
			v.Min = *p.Min
		}
		if p.Max != nil {
			v.Max = *p.Max
		}
		ranges = append(ranges, v)
	}
	return ranges
}

func (r *reader) workedCase(p *pb.Case) rules.Case {
	r.noUnknown("case", p.ProtoReflect())
	if p.GetTreatment() == nil {
		r.add("treatment", "is missing")
	}
	want, ok := DecodeDecision(p.GetWant())
	if !ok {
		r.add("want", "%d is not a decision this program knows", p.GetWant())
	}
	c := rules.Case{Name: p.GetName(), On: r.date("on", p.GetOn()), Want: want, By: some(p.GetBy())}
	r.enter("treatment", alone)
	c.Treatment = r.treatment(p.GetTreatment())
	r.leave()
	r.enter("site", alone)
	c.Site = r.surroundings(p.GetSite())
	r.leave()
	return c
}

// some gives no list for an empty one, so that equal tables have equal digests.
func some(list []string) []string {
	if len(list) == 0 {
		return nil
	}
	return list
}
