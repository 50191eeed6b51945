package api

import (
	"encoding/binary"
	"fmt"
	"math"
	"slices"
	"strings"

	"google.golang.org/genproto/googleapis/type/date"

	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
	"example.org/rootward/rules/quantity"
	"example.org/rootward/rules/rulewire"
	"example.org/rootward/server/treatment"
)

// Years outside these are taken for slips of the pen: herbicides of this kind did
// not exist before, and no rule set looks farther ahead.
const (
	firstYear = 1900
	lastYear  = 2200
)

// day reads a full date.
func (f *faults) day(field string, p *date.Date) civil.Date {
	if p == nil {
		f.add(field, "is missing: state the day, for the answer depends on it")
		return 0
	}
	d, err := rulewire.DecodeDate(p)
	if err != nil {
		f.add(field, "%s: give year, month and day in full", err)
		return 0
	}
	if y, _, _ := d.Parts(); y < firstYear || y > lastYear {
		f.add(field, "%s is not from %d to %d: correct the year", d, firstYear, lastYear)
	}
	return d
}

// site is a site of a request with the place whose law governs it.
type site struct {
	treatment.Site
	place string
	facts rules.SiteFacts // for computed rows
}

var (
	siteArea = squareMetres("area_m2").upTo(int64(100_000 * quantity.Hectare))
	// applied is bounded by a thousand tonnes, far beyond any site.
	applied = grams("ae_g").orZero().upTo(1_000_000_000 * int64(quantity.GramAE))
)

// site reads a site.
func (f *faults) site(field string, p *treatmentv1.Site, c *treatment.Catalogue) *site {
	if p == nil {
		f.add(field, "is missing: state where the stems stand")
		return &site{}
	}
	path := field + "."
	s := &site{place: f.required(path+"place", p.GetPlace(), "state the place whose law governs, as \"us/velmora\"")}
	area, _ := f.real(path, siteArea, p.AreaM2)
	s.Site = treatment.Site{
		ID:      f.required(path+"site_id", p.GetSiteId(), "give the site an id"),
		Area:    quantity.SquareMillimetres(area),
		Applied: f.applied(path, p.GetAppliedThisYear(), c),
		Shares:  f.shares(path, p.GetSeasonShares(), c),
		Granted: f.granted(path, p.GetGrantedReductions()),
	}
	s.facts = f.siteFacts(path, p)
	return s
}

func (f *faults) applied(path string, list []*treatmentv1.AppliedAmount, c *treatment.Catalogue) map[string]quantity.MicrogramsAE {
	if len(list) == 0 {
		return nil
	}
	amounts := map[string]quantity.MicrogramsAE{}
	for i, p := range list {
		at := fmt.Sprintf("%sapplied_this_year[%d].", path, i)
		_, twice := amounts[p.GetActive()]
		f.active(at, p.GetActive(), twice, c)
		n, _ := f.real(at, applied, &p.AeG)
		amounts[p.GetActive()] = quantity.MicrogramsAE(n)
	}
	return amounts
}

// maxGranted bounds the reductions of one site, far beyond what a place's law offers.
const maxGranted = 1_000

// granted reads reductions in the order of their names, each once.
func (f *faults) granted(path string, list []string) []string {
	f.unless(len(list) <= maxGranted, path+"granted_reductions", "has %d, at most %d are taken: leave out those that no rule of the place offers", len(list), maxGranted)
	var names []string
	for i, name := range list[:min(len(list), maxGranted)] {
		field := fmt.Sprintf("%sgranted_reductions[%d]", path, i)
		set, rule, found := strings.Cut(f.name(field, name), "/")
		f.unless(found && set != "" && rule != "" || len(name) > maxName, field, "%s is not \"rule set/rule\": name the rule that offers the reduction, with its set", quoted(name))
		names = append(names, name)
	}
	slices.Sort(names)
	return slices.Compact(names)
}

// active checks the name of an active ingredient: with a misspelt one an amount
// would count for nothing.
func (f *faults) active(path, name string, twice bool, c *treatment.Catalogue) {
	f.unless(!twice, path+"active", "%s is given twice: give it once", quoted(name))
	for i := range c.Formulations {
		if c.Formulations[i].Active == name {
			return
		}
	}
	f.add(path+"active", "%s is not an active ingredient of the catalogue: correct it, or leave it out, for what is not in the catalogue is never prescribed", quoted(name))
}

func (f *faults) shares(path string, list []*treatmentv1.SeasonShare, c *treatment.Catalogue) map[string]treatment.Share {
	if len(list) == 0 {
		return nil
	}
	shares := map[string]treatment.Share{}
	for i, p := range list {
		at := fmt.Sprintf("%sseason_shares[%d].", path, i)
		_, twice := shares[p.GetActive()]
		f.active(at, p.GetActive(), twice, c)
		share, ok := decodeShare(p.GetAdmitted())
		f.unless(ok, at+"admitted", "has %d bytes, a share has %d: send back what a summary gave", len(p.GetAdmitted()), shareBytes)
		shares[p.GetActive()] = share
	}
	return shares
}

// shareBytes is the length of a share: eight bytes, the lowest first, for each of
// its words.
const shareBytes = 8 * len(treatment.Share{})

func encodeShare(s treatment.Share) []byte {
	b := make([]byte, 0, shareBytes)
	for _, w := range s {
		b = binary.LittleEndian.AppendUint64(b, w)
	}
	return b
}

func decodeShare(b []byte) (treatment.Share, bool) {
	var s treatment.Share
	if len(b) != shareBytes {
		return s, false
	}
	for i := range s {
		s[i] = binary.LittleEndian.Uint64(b[8*i:])
	}
	return s, true
}

// settings reads settings; what is absent keeps its default.
func (f *faults) settings(p *treatmentv1.Settings, c *treatment.Catalogue) *treatment.Settings {
	if p == nil {
		p = &treatmentv1.Settings{}
	}
	s := treatment.DefaultSettings()
	s.Standing = word[rules.Standing](f, "settings.standing", p.GetStanding())
	s.DriftControl = word[rules.DriftControl](f, "settings.drift_control", p.GetDriftControl())
	for i, category := range p.GetCategories() {
		field := fmt.Sprintf("settings.categories[%d]", i)
		f.unless(category != 0, field, "is not stated: use one of %v", rules.Words[rules.CertificationCategory]())
		if v := word[rules.CertificationCategory](f, field, category); v != 0 {
			s.Categories |= rules.AnyOf(v)
		}
	}
	over(f, &s.FoliarReach, "foliar_reach_m", p.FoliarReachM, quantity.Metres)
	over(f, &s.BasalBand, "basal_band_cm", p.BasalBandCm, quantity.Centimetres)
	over(f, &s.Wetting, "wetting_ml_per_in2", p.WettingMlPerIn2, quantity.MillilitresPerSquareInch)
	over(f, &s.PerCut, "cut_ml", p.CutMl, quantity.Millilitres)
	over(f, &s.LowVolume, "low_volume_gal_per_ac", p.LowVolumeGalPerAc, quantity.GallonsPerAcre)
	over(f, &s.HighVolume, "high_volume_gal_per_ac", p.HighVolumeGalPerAc, quantity.GallonsPerAcre)
	over(f, &s.Tank, "tank_gal", p.TankGal, quantity.Gallons)
	over(f, &s.HandgunTank, "handgun_tank_gal", p.HandgunTankGal, quantity.Gallons)
	over(f, &s.Spare, "spare_percent", p.SparePercent, quantity.Percent)
	for i, id := range p.GetFormulationIds() {
		if len(id) <= maxName {
			s.Formulations = append(s.Formulations, id)
		} else {
			f.name(fmt.Sprintf("settings.formulation_ids[%d]", i), id)
		}
	}
	f.list = append(f.list, s.Check(c)...)
	return &s
}

// over replaces a default by what is stated; whether a crew can mean it the core
// checks.
func over[T ~int64](f *faults, to *T, field string, v *float64, unit func(float64) T) {
	switch {
	case v == nil:
	case math.IsNaN(*v) || math.IsInf(*v, 0):
		f.add("settings."+field, "%g is not a quantity: correct it, or leave the field out for its default", *v)
	default:
		*to = unit(*v)
	}
}
