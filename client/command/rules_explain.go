package command

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"

	"example.org/rootward/client"
	"example.org/rootward/client/page"
	"example.org/rootward/client/report"
	"example.org/rootward/client/wording"
)

// explainRules is the command rules explain.
type explainRules struct {
	Place string     `required:"" placeholder:"PLACE" help:"Place whose law governs, as us/velmora."`
	Date  civil.Date `required:"" placeholder:"YYYY-MM-DD" help:"The day. Nothing is taken from the clock."`
	position
	stem

	Method          word[rules.Method]           `required:"" placeholder:"WORD" help:"The method: ${methods}."`
	FormulationID   string                       `name:"formulation" placeholder:"ID" help:"What is applied: id of a formulation in the catalogue. Left out: nothing is."`
	Equipment       word[rules.Equipment]        `placeholder:"WORD" help:"What puts it on the plant: ${equipment}."`
	Droplet         word[rules.Droplet]          `placeholder:"WORD" help:"Droplet class: ${droplets}."`
	Toxicity        word[rules.ToxicityCategory] `placeholder:"WORD" help:"Most toxic acute category of the product: ${toxicities}. Default: the catalogue's."`
	RestrictedUse   word[rules.RestrictedUse]    `placeholder:"WORD" help:"Federal restriction of the product: ${uses}. Default: the catalogue's."`
	ReleaseHeightFt float64                      `placeholder:"N" help:"Height of release above the ground in feet."`
	Standing        word[rules.Standing]         `placeholder:"WORD" help:"Standing of the applicator: ${standings}. Not stated, what the law asks a standing for is undetermined."`
	Category        []category                   `placeholder:"WORD" help:"Category that the applicator is certified in, or the one who supervises is: ${categories}."`
	DriftControl    word[rules.DriftControl]     `placeholder:"WORD" help:"Whether the spray equipment is approved as reducing drift: ${driftcontrols}."`
	CarrierGalPerAc *float64                     `placeholder:"N" help:"Spray in gallons per acre."`
	DosePercent     *float64                     `placeholder:"N" help:"Dose in percent of the most that the label allows; a part of a tenth counts as a tenth."`
	Granted         []string                     `placeholder:"SET/RULE" help:"Reduction of a buffer that was granted and is on record, by rule set and rule."`
	LakeAreaAc      *float64                     `placeholder:"N" help:"Area of the largest lake or pond within reach of any rule, in acres."`
}

// Run explains what the rules say.
func (e *explainRules) Run(r *run) error {
	stem, err := e.stem.proto()
	if err != nil {
		return err
	}
	return r.with(func(c *client.Client) error {
		treatment, err := e.treatment(r, c)
		if err != nil {
			return err
		}
		answer, err := c.RuleSets.Explain(r.ctx, &rulesetv1.ExplainRequest{
			Place: e.Place, On: rulewire.EncodeDate(e.Date), Treatment: treatment, Site: e.surroundings(stem),
			Position: &rulesetv1.SitePosition{LatitudeDeg: e.LatitudeDeg, LongitudeDeg: e.LongitudeDeg, ElevationM: e.elevation()},
		})
		if err != nil {
			return err
		}
		return e.write(r, answer)
	})
}

func (e *explainRules) write(r *run, answer *rulesetv1.ExplainResponse) error {
	p := page.On(r.stdout)
	p.Line("%s", strings.ToUpper(wording.Decision(answer.GetDecision())))
	for _, gap := range answer.GetGaps() {
		p.Text("  ! ", gap.GetWhere()+": "+gap.GetProblem())
	}
	p.Heading("Rules that apply, the widest layer first")
	for _, f := range answer.GetFindings() {
		report.FindingInFull(p, f)
	}
	if len(answer.GetFindings()) == 0 {
		p.Line("  none")
	}
	differing(p, answer)
	p.Line("")
	warn(p)
	return p.Err()
}

// differing tells where rule sets ask for different things, and which are overdue.
func differing(p *page.Page, answer *rulesetv1.ExplainResponse) {
	var texts []string
	for _, c := range answer.GetConflicts() {
		texts = append(texts, c.GetText())
	}
	report.Conflicts(p, texts)
	for _, ref := range answer.GetOverdue() {
		p.Text("  ! ", wording.RuleSet(ref)+": its agency was to have reviewed it by now; ask whether it still holds")
	}
}

// treatment fills in from the catalogue what it knows of species and formulation.
func (e *explainRules) treatment(r *run, c *client.Client) (*ruletablev1.Treatment, error) {
	known, err := c.Treatment.ListCatalogue(r.ctx, &treatmentv1.ListCatalogueRequest{})
	if err != nil {
		return nil, err
	}
	t := &ruletablev1.Treatment{
		Species: e.Species, Method: commonv1.Method(e.Method.value), Equipment: commonv1.Equipment(e.Equipment.value),
		Droplet: commonv1.Droplet(e.Droplet.value), Toxicity: commonv1.ToxicityCategory(e.Toxicity.value),
		RestrictedUse: commonv1.RestrictedUse(e.RestrictedUse.value), ReleaseHeightUm: int64(quantity.Feet(e.ReleaseHeightFt)),
		LandUse: commonv1.LandUse(e.LandUse.value), Standing: commonv1.Standing(e.Standing.value), NoHerbicide: e.FormulationID == "",
		DriftControl: commonv1.DriftControl(e.DriftControl.value), Categories: categories(e.Category), Granted: e.Granted,
	}
	if v := e.CarrierGalPerAc; v != nil {
		t.CarrierMlPerHa = int64(quantity.GallonsPerAcre(*v).On(quantity.Hectare) / quantity.Millilitre)
	}
	if v := e.DosePercent; v != nil {
		t.DosePermille = int64(math.Ceil(*v*10 - noise))
	}
	for _, s := range known.GetSpecies() {
		if s.GetScientificName() == e.Species {
			t.Suckering = s.GetSuckering()
		}
	}
	if e.FormulationID == "" {
		return t, nil
	}
	for _, f := range known.GetFormulations() {
		if f.GetFormulationId() == e.FormulationID {
			t.Active, t.Formulation, t.SoilActivity, t.AquaticLabel = f.GetActive(), f.GetKind(), f.GetSoilActivity(), f.GetAquaticLabel()
			t.Toxicity = cmp.Or(t.Toxicity, f.GetToxicity())
			t.RestrictedUse = cmp.Or(t.RestrictedUse, f.GetRestrictedUse())
			return t, nil
		}
	}
	return nil, fmt.Errorf("formulation %q is not in the catalogue; the command catalogue lists what is", e.FormulationID)
}

// noise is what a decimal fraction loses in binary at most.
const noise = 1e-6

// surroundings is a stem as the rules see it.
func (e *explainRules) surroundings(s *treatmentv1.Stem) *ruletablev1.Surroundings {
	site := &ruletablev1.Surroundings{Form: s.GetForm(), Soil: s.GetSoil(), Bark: s.GetBark(), Desirable: s.GetDesirable()}
	add := func(m commonv1.Measure, value *float64, convert func(float64) int64) {
		if value != nil {
			site.Measures = append(site.Measures, &ruletablev1.Measured{Measure: m, Value: convert(*value)})
		}
	}
	centimetres := func(v float64) int64 { return int64(quantity.Centimetres(v)) }
	add(commonv1.Measure_MEASURE_DIAMETER_UM, s.DiameterCm, centimetres)
	add(commonv1.Measure_MEASURE_HEIGHT_UM, s.HeightM, micrometres)
	add(commonv1.Measure_MEASURE_SLOPE_PERMILLE, s.SlopePercent, func(v float64) int64 { return int64(math.Ceil(v*10 - noise)) })
	add(commonv1.Measure_MEASURE_STEMS_PER_HA, s.StemDensityPerHa, func(v float64) int64 { return int64(math.Ceil(v)) })
	add(commonv1.Measure_MEASURE_TREATED_AREA_MM2, s.AreaM2, func(v float64) int64 { return int64(quantity.SquareMetres(v)) })
	add(commonv1.Measure_MEASURE_LAKE_AREA_MM2, e.LakeAreaAc, func(v float64) int64 { return int64(quantity.Acres(v)) })
	site.Water, site.Places = waters(s), places(s)
	return site
}

func waters(s *treatmentv1.Stem) []*ruletablev1.MeasuredWater {
	var list []*ruletablev1.MeasuredWater
	stated := map[commonv1.WaterClass]bool{}
	for _, w := range s.GetWaterDistances() {
		stated[w.GetWaterClass()] = true
		list = append(list, &ruletablev1.MeasuredWater{WaterClass: w.GetWaterClass(), DistanceUm: micrometres(w.GetDistanceM()), Origin: w.GetOrigin(), State: w.GetState()})
	}
	if s.OtherWaterBeyondM == nil {
		return list
	}
	for _, class := range rules.Words[rules.WaterClass]() {
		if c := commonv1.WaterClass(class); !stated[c] {
			list = append(list, &ruletablev1.MeasuredWater{
				WaterClass: c, DistanceUm: micrometres(s.GetOtherWaterBeyondM()), AtLeast: true,
				Origin: commonv1.DistanceOrigin_DISTANCE_ORIGIN_BANK_TOP, // from wherever a rule starts to measure
			})
		}
	}
	return list
}

func places(s *treatmentv1.Stem) []*ruletablev1.MeasuredPlace {
	var list []*ruletablev1.MeasuredPlace
	stated := map[commonv1.PlaceClass]bool{}
	for _, p := range s.GetPlaceDistances() {
		stated[p.GetPlaceClass()] = true
		list = append(list, &ruletablev1.MeasuredPlace{PlaceClass: p.GetPlaceClass(), DistanceUm: micrometres(p.GetDistanceM())})
	}
	if s.OtherPlacesBeyondM == nil {
		return list
	}
	for _, class := range rules.Words[rules.PlaceClass]() {
		if c := commonv1.PlaceClass(class); !stated[c] {
			list = append(list, &ruletablev1.MeasuredPlace{PlaceClass: c, DistanceUm: micrometres(s.GetOtherPlacesBeyondM()), AtLeast: true})
		}
	}
	return list
}

func micrometres(metres float64) int64 { return int64(quantity.Metres(metres)) }
