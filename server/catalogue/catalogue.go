// Package catalogue reads the catalogue of species, formulations, recipes,
// evidence and costs from text. It is apart from package treatment because that
// one reads no files, and because users bring catalogue files of their own.
package catalogue

import (
	_ "embed"
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"example.org/rootward/rules"
	"example.org/rootward/server/treatment"
	"github.com/goccy/go-yaml"
)

// shipped is default.yaml as JSON, which is read in a tenth of the time: every start of a
// server reads it. TestTheShippedCatalogueIsDefaultYAML writes it anew with -update.
//
//go:embed default.json
var shipped []byte

// Default gives the catalogue that Rootward ships, default.yaml.
func Default() (*treatment.Catalogue, error) {
	const name = "the shipped catalogue"
	var f file
	if err := json.Unmarshal(shipped, &f); err != nil {
		return nil, fmt.Errorf("%s: %w", name, err)
	}
	c := &treatment.Catalogue{}
	if err := add(c, &f, name); err != nil {
		return nil, err
	}
	return c, nil
}

// maxFile bounds a catalogue file, in bytes.
const maxFile = 4 << 20

// Add reads a catalogue file and adds its entries. On an error, which names
// everything that is wrong, nothing is added. name is for messages.
func Add(c *treatment.Catalogue, r io.Reader, name string) error {
	text, err := io.ReadAll(io.LimitReader(r, maxFile+1))
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	if len(text) > maxFile {
		return fmt.Errorf("%s is larger than %d bytes; split it", name, maxFile)
	}
	f, err := parse(text)
	if err != nil {
		return fmt.Errorf("%s: %w", name, err)
	}
	return add(c, f, name)
}

func parse(text []byte) (*file, error) {
	var f file
	return &f, yaml.UnmarshalWithOptions(text, &f, yaml.Strict())
}

// add adds the entries of a file, or nothing if any of them is wrong.
func add(c *treatment.Catalogue, f *file, name string) error {
	b := &builder{name: name, next: clone(c)}
	b.add(f)
	if len(b.faults) > 0 {
		return errors.Join(b.faults...)
	}
	*c = b.next
	c.Complete()
	return nil
}

func clone(c *treatment.Catalogue) treatment.Catalogue {
	return treatment.Catalogue{
		Species: slices.Clone(c.Species), Formulations: slices.Clone(c.Formulations),
		Recipes: slices.Clone(c.Recipes), Evidence: slices.Clone(c.Evidence), Costs: slices.Clone(c.Costs),
	}
}

// file is a catalogue file as it is written.
type file struct {
	Species      []speciesEntry     `yaml:"species"`
	Formulations []formulationEntry `yaml:"formulations"`
	Recipes      []recipeEntry      `yaml:"recipes"`
	Evidence     []evidenceEntry    `yaml:"evidence"`
	Costs        []costEntry        `yaml:"costs"`
}

type speciesEntry struct {
	Name           string            `yaml:"name"`
	Common         string            `yaml:"common"`
	RootSuckering  string            `yaml:"root_suckering"`
	StumpSprouting string            `yaml:"stump_sprouting"`
	SeedBearing    string            `yaml:"seed_bearing"`
	Sources        map[string]string `yaml:"sources"`
}

type formulationEntry struct {
	ID            string            `yaml:"id"`
	Name          string            `yaml:"name"`
	Active        string            `yaml:"active"`
	Kind          string            `yaml:"kind"`
	Strength      string            `yaml:"strength"`
	Methods       []string          `yaml:"methods"`
	AquaticLabel  string            `yaml:"aquatic_label"`
	SoilActivity  string            `yaml:"soil_activity"`
	RestrictedUse string            `yaml:"restricted_use"`
	Toxicity      string            `yaml:"toxicity"`
	EntryHours    int               `yaml:"entry_hours"`
	RainFreeHours int               `yaml:"rain_free_hours"`
	AnnualMax     string            `yaml:"annual_max"`
	Container     string            `yaml:"container"`
	Sources       map[string]string `yaml:"sources"`
}

type recipeEntry struct {
	Method   string `yaml:"method"`
	Active   string `yaml:"active"`
	Kind     string `yaml:"kind"`
	Mix      string `yaml:"mix"`
	Carrier  string `yaml:"carrier"`
	Adjuvant string `yaml:"adjuvant"`
	Dye      string `yaml:"dye"`
	CutEvery string `yaml:"cut_every"`
	MinCuts  int64  `yaml:"min_cuts"`
	Source   string `yaml:"source"`
}

type evidenceEntry struct {
	Species       string   `yaml:"species"`
	Methods       []string `yaml:"methods"`
	Active        string   `yaml:"active"`
	Kind          string   `yaml:"kind"`
	Forms         []string `yaml:"forms"`
	RootSuckering []string `yaml:"root_suckering"`
	Seasons       []string `yaml:"seasons"`
	Above         string   `yaml:"above"`
	UpTo          string   `yaml:"up_to"`
	Control       *float64 `yaml:"control"`
	Source        string   `yaml:"source"`
}

type costEntry struct {
	Method  string  `yaml:"method"`
	PerStem float64 `yaml:"per_stem"`
	Source  string  `yaml:"source"`
}

// builder turns entries into a catalogue and gathers what is wrong with them.
type builder struct {
	name   string
	entry  string
	next   treatment.Catalogue
	faults []error
}

func (b *builder) fault(field, format string, args ...any) {
	b.faults = append(b.faults, fmt.Errorf("%s: %s: %s: %s", b.name, b.entry, field, fmt.Sprintf(format, args...)))
}

func (b *builder) add(f *file) {
	for i := range f.Species {
		b.species(&f.Species[i], i)
	}
	for i := range f.Formulations {
		b.formulation(&f.Formulations[i], i)
	}
	for i := range f.Recipes {
		b.recipe(&f.Recipes[i], i)
	}
	for i := range f.Evidence {
		b.evidence(&f.Evidence[i], i)
	}
	for i := range f.Costs {
		b.cost(&f.Costs[i], i)
	}
}

func (b *builder) begin(section string, i int, id string) {
	b.entry = fmt.Sprintf("%s entry %d (%s)", section, i+1, id)
	if strings.TrimSpace(id) == "" {
		b.fault("id", "is empty; give the entry a name")
	}
}

func (b *builder) species(e *speciesEntry, i int) {
	b.begin("species", i, e.Name)
	if slices.ContainsFunc(b.next.Species, func(s treatment.Species) bool { return s.Name == e.Name }) {
		b.fault("name", "%q is in the catalogue already; each species has one entry", e.Name)
	}
	b.sources(e.Sources, "root_suckering", "stump_sprouting", "seed_bearing")
	b.next.Species = append(b.next.Species, treatment.Species{
		Name: e.Name, Common: e.Common, Sources: e.Sources,
		Suckering:      oneWord[rules.Suckering](b, "root_suckering", e.RootSuckering),
		StumpSprouting: oneWord[rules.YesNo](b, "stump_sprouting", e.StumpSprouting),
		SeedBearing:    oneWord[rules.YesNo](b, "seed_bearing", e.SeedBearing),
	})
}

func (b *builder) formulation(e *formulationEntry, i int) {
	b.begin("formulations", i, e.ID)
	if b.next.Formulation(e.ID) != nil {
		b.fault("id", "%q is in the catalogue already; give yours an id of its own", e.ID)
	}
	b.sources(e.Sources, "strength", "methods", "aquatic_label", "soil_activity", "restricted_use", "toxicity",
		"entry_hours", "rain_free_hours", "annual_max", "container")
	b.within("entry_hours", e.EntryHours, 1, 24*30)
	b.within("rain_free_hours", e.RainFreeHours, 0, 24*7)
	b.given("name", e.Name)
	b.active(e.Active)
	b.next.Formulations = append(b.next.Formulations, treatment.Formulation{
		ID: e.ID, Name: e.Name, Active: e.Active, Sources: e.Sources,
		Kind:          oneWord[rules.FormulationKind](b, "kind", e.Kind),
		Strength:      b.strength("strength", e.Strength),
		Methods:       wordSet[rules.Method](b, "methods", e.Methods),
		AquaticLabel:  oneWord[rules.AquaticLabel](b, "aquatic_label", e.AquaticLabel),
		SoilActivity:  oneWord[rules.SoilActivity](b, "soil_activity", e.SoilActivity),
		RestrictedUse: oneWord[rules.RestrictedUse](b, "restricted_use", e.RestrictedUse),
		Toxicity:      oneWord[rules.ToxicityCategory](b, "toxicity", e.Toxicity),
		EntryHours:    e.EntryHours, RainFreeHours: e.RainFreeHours,
		AnnualMax: b.arealRate("annual_max", e.AnnualMax),
		Container: b.volume("container", e.Container),
	})
}

func (b *builder) recipe(e *recipeEntry, i int) {
	b.begin("recipes", i, e.Method+" "+e.Active)
	b.given("source", e.Source)
	b.active(e.Active)
	r := treatment.Recipe{
		Active: e.Active, MinCuts: e.MinCuts, Source: e.Source, Carrier: treatment.Carrier(e.Carrier),
		Method: oneWord[rules.Method](b, "method", e.Method),
		Kind:   oneWord[rules.FormulationKind](b, "kind", e.Kind),
		Mix:    b.strength("mix", e.Mix),
	}
	r.Adjuvant, r.Dye = b.share("adjuvant", e.Adjuvant), b.share("dye", e.Dye)
	if !slices.Contains([]treatment.Carrier{treatment.Water, treatment.Oil, treatment.Undiluted}, r.Carrier) {
		b.fault("carrier", "%q is not one of water, oil, none", e.Carrier)
	}
	if r.Method == rules.BasalBark && (r.Kind != rules.Ester || r.Carrier != treatment.Oil) {
		b.fault("carrier", "basal bark takes an ester in oil; a water-based mix does not enter bark")
	}
	if r.Method == rules.HackAndSquirt {
		r.CutEvery = b.length("cut_every", e.CutEvery)
		b.within("min_cuts", int(e.MinCuts), 1, 20)
	}
	b.next.Recipes = append(b.next.Recipes, r)
}

func (b *builder) evidence(e *evidenceEntry, i int) {
	b.begin("evidence", i, strings.Join(e.Methods, ", ")+" "+e.Species)
	b.given("source", e.Source)
	entry := treatment.Evidence{
		Species: e.Species, Active: e.Active, Source: e.Source, Guidance: e.Control == nil,
		Methods:   wordSet[rules.Method](b, "methods", e.Methods),
		Forms:     wordSet[rules.GrowthForm](b, "forms", e.Forms),
		Suckering: wordSet[rules.Suckering](b, "root_suckering", e.RootSuckering),
		Seasons:   wordSet[rules.Season](b, "seasons", e.Seasons),
	}
	if e.Control != nil {
		entry.Control = percent(*e.Control)
		if !(*e.Control >= 0 && *e.Control <= 100) {
			b.fault("control", "%g is not 0 to 100 %%", *e.Control)
		}
	}
	if e.Kind != "" {
		entry.Kind = oneWord[rules.FormulationKind](b, "kind", e.Kind)
	}
	if e.Above != "" {
		entry.Above = b.length("above", e.Above)
	}
	if e.UpTo != "" {
		entry.UpTo = b.length("up_to", e.UpTo)
	}
	b.next.Evidence = append(b.next.Evidence, entry)
}

func (b *builder) cost(e *costEntry, i int) {
	b.begin("costs", i, e.Method)
	b.given("source", e.Source)
	if !(e.PerStem > 0 && e.PerStem < 10_000) {
		b.fault("per_stem", "%g is not above 0 and below 10000 dollars", e.PerStem)
	}
	b.next.Costs = append(b.next.Costs, treatment.Cost{
		Method: oneWord[rules.Method](b, "method", e.Method), PerStem: tenThousandths(e.PerStem), Source: e.Source,
	})
}
