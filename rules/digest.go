package rules

import (
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"strconv"
	"unicode/utf8"

	"example.org/rootward/rules/civil"
)

// digest is taken over words, not numbers, so that adding to a vocabulary does
// not change the digests of tables that do not use the addition.
func digest(t *Table) string {
	sum := sha256.Sum256(content(t))
	return hex.EncodeToString(sum[:])
}

// content is a table as encoding/json writes it, each row with the kind of its effect.
// It is written by hand since a server that starts waits for it, and that package takes
// ten times as long; a test holds it against that package.
func content(t *Table) []byte {
	w := make(jsonText, 0, 1<<10+len(t.Rows)<<10+len(t.Cases)<<10)
	w.open('{')
	w.value("Manifest", t.Manifest)
	w.key("Rows")
	w.open('[')
	for i := range t.Rows {
		w.row(&t.Rows[i])
	}
	w = append(w, ']')
	if len(t.Cases) > 0 {
		w.key("Cases")
		w.open('[')
		for i := range t.Cases {
			w.workedCase(&t.Cases[i])
		}
		w = append(w, ']')
	}
	return append(w, '}')
}

// jsonText is JSON that is being written.
type jsonText []byte

// next separates what comes from what stands before it.
func (w *jsonText) next() {
	switch text := *w; text[len(text)-1] {
	case '{', '[', ':':
	default:
		*w = append(text, ',')
	}
}

// open begins an object or a list, which the caller closes.
func (w *jsonText) open(bracket byte) {
	if len(*w) > 0 {
		w.next()
	}
	*w = append(*w, bracket)
}

func (w *jsonText) key(name string) {
	w.next()
	*w = append(append(append(*w, '"'), name...), '"', ':')
}

// value writes any value, slowly.
func (w *jsonText) value(key string, v any) {
	text, err := json.Marshal(v)
	if err != nil {
		// A validated table holds only words, numbers and dates.
		panic("rules: a table cannot be written as JSON: " + err.Error())
	}
	w.key(key)
	*w = append(*w, text...)
}

func (w *jsonText) string(key, s string) {
	w.key(key)
	w.quoted(s)
}

func (w *jsonText) quoted(s string) {
	if !isPlain(s) {
		text, _ := json.Marshal(s) // of a string there is no error
		*w = append(*w, text...)
		return
	}
	*w = append(append(append(*w, '"'), s...), '"')
}

// isPlain reports whether JSON has a string as it is.
func isPlain(s string) bool {
	for i := range len(s) {
		if c := s[i]; c < ' ' || c >= utf8.RuneSelf || c == '"' || c == '\\' || c == '<' || c == '>' || c == '&' || c == 0x7f {
			return false
		}
	}
	return true
}

// strings writes a list, unless it is empty.
func (w *jsonText) strings(key string, list []string) {
	if len(list) == 0 {
		return
	}
	w.key(key)
	w.open('[')
	for _, s := range list {
		w.next()
		w.quoted(s)
	}
	*w = append(*w, ']')
}

func (w *jsonText) integer(key string, v int64) {
	w.key(key)
	*w = strconv.AppendInt(*w, v, 10)
}

func (w *jsonText) bool(key string, v bool) {
	w.key(key)
	*w = strconv.AppendBool(*w, v)
}

func (w *jsonText) date(key string, d civil.Date) {
	if d.Known() {
		w.string(key, d.String())
		return
	}
	w.string(key, "")
}

func putWord[V Vocabulary](w *jsonText, key string, v V) { w.string(key, word(v)) }

func putSet[V Vocabulary](w *jsonText, key string, s OneOf[V]) {
	if s.Empty() {
		w.string(key, "")
		return
	}
	w.string(key, s.String())
}

func (w *jsonText) row(r *Row) {
	w.open('{')
	w.string("ID", r.ID)
	w.string("Purpose", r.Purpose)
	w.string("Citation", r.Citation)
	w.date("ValidFrom", r.ValidFrom)
	w.date("ValidTo", r.ValidTo)
	w.key("When")
	w.selector(&r.When)
	if len(r.Unless) > 0 {
		w.key("Unless")
		w.open('[')
		for i := range r.Unless {
			w.selector(&r.Unless[i])
		}
		*w = append(*w, ']')
	}
	if r.During != (civil.Window{}) {
		w.key("During")
		w.window(r.During)
	}
	w.strings("Supersedes", r.Supersedes)
	w.value("Effect", r.Effect)
	putWord(w, "Kind", r.Effect.Kind())
	*w = append(*w, '}')
}

func (w *jsonText) selector(s *Selector) {
	w.open('{')
	w.strings("Species", s.Species)
	w.strings("Actives", s.Actives)
	putSet(w, "Suckering", s.Suckering)
	putSet(w, "Forms", s.Forms)
	putSet(w, "Methods", s.Methods)
	putSet(w, "Equipment", s.Equipment)
	putSet(w, "Formulations", s.Formulations)
	putSet(w, "SoilActivity", s.SoilActivity)
	putSet(w, "AquaticLabel", s.AquaticLabel)
	putSet(w, "RestrictedUse", s.RestrictedUse)
	putSet(w, "Toxicity", s.Toxicity)
	putSet(w, "Droplets", s.Droplets)
	putSet(w, "LandUses", s.LandUses)
	putSet(w, "Soil", s.Soil)
	putSet(w, "Bark", s.Bark)
	putSet(w, "Desirable", s.Desirable)
	w.ranges(s.Ranges)
	if !s.DriftControl.Empty() {
		putSet(w, "DriftControl", s.DriftControl)
	}
	*w = append(*w, '}')
}

// ranges writes a list, unless it is empty.
func (w *jsonText) ranges(list []Range) {
	if len(list) == 0 {
		return
	}
	w.key("Ranges")
	w.open('[')
	for _, r := range list {
		w.open('{')
		putWord(w, "Of", r.Of)
		w.integer("Min", r.Min)
		w.integer("Max", r.Max)
		w.bool("MinOpen", r.MinOpen)
		w.bool("MaxOpen", r.MaxOpen)
		*w = append(*w, '}')
	}
	*w = append(*w, ']')
}

func (w *jsonText) window(v civil.Window) {
	w.open('{')
	for _, end := range []struct {
		key string
		day civil.DayOfYear
	}{{"From", v.From}, {"To", v.To}} {
		w.key(end.key)
		w.open('{')
		w.integer("Month", int64(end.day.Month))
		w.integer("Day", int64(end.day.Day))
		*w = append(*w, '}')
	}
	*w = append(*w, '}')
}

func (w *jsonText) workedCase(c *Case) {
	w.open('{')
	w.string("Name", c.Name)
	w.date("On", c.On)
	w.key("Treatment")
	w.treatment(&c.Treatment)
	w.key("Site")
	w.surroundings(&c.Site)
	w.string("Want", c.Want.String())
	w.strings("By", c.By)
	*w = append(*w, '}')
}

func (w *jsonText) treatment(t *Treatment) {
	w.open('{')
	w.string("Species", t.Species)
	putWord(w, "Suckering", t.Suckering)
	putWord(w, "Method", t.Method)
	putWord(w, "Equipment", t.Equipment)
	w.string("Active", t.Active)
	putWord(w, "Formulation", t.Formulation)
	putWord(w, "SoilActivity", t.SoilActivity)
	putWord(w, "AquaticLabel", t.AquaticLabel)
	putWord(w, "RestrictedUse", t.RestrictedUse)
	putWord(w, "Toxicity", t.Toxicity)
	putWord(w, "Droplet", t.Droplet)
	w.integer("ReleaseHeight", int64(t.ReleaseHeight))
	putWord(w, "LandUse", t.LandUse)
	putWord(w, "Standing", t.Standing)
	w.bool("NoHerbicide", t.NoHerbicide)
	if t.DriftControl != 0 {
		putWord(w, "DriftControl", t.DriftControl)
	}
	if !t.Categories.Empty() {
		putSet(w, "Categories", t.Categories)
	}
	if t.CarrierMlPerHa != 0 {
		w.integer("CarrierMlPerHa", t.CarrierMlPerHa)
	}
	if t.DosePermille != 0 {
		w.integer("DosePermille", t.DosePermille)
	}
	w.strings("Granted", t.Granted)
	*w = append(*w, '}')
}

func (w *jsonText) surroundings(s *Surroundings) {
	w.open('{')
	putWord(w, "Form", s.Form)
	putWord(w, "Soil", s.Soil)
	putWord(w, "Bark", s.Bark)
	putWord(w, "Desirable", s.Desirable)
	w.key("Measures")
	w.measures(&s.Measures)
	w.key("Water")
	w.waters(&s.Water)
	if s.Places != (Places{}) {
		w.key("Places")
		w.places(&s.Places)
	}
	*w = append(*w, '}')
}

// measures writes what is known, by name.
func (w *jsonText) measures(m *Measures) {
	w.open('{')
	for rest := m.known; !rest.Empty(); rest &= rest - 1 {
		q := rest.first()
		w.integer(word(q), m.values[q])
	}
	*w = append(*w, '}')
}

// waters writes the distances that are known, by class, without those that were computed.
func (w *jsonText) waters(from *Waters) {
	w.open('{')
	for rest := from.known; !rest.Empty(); rest &= rest - 1 {
		c := rest.first()
		d, _ := from.Get(c)
		w.key(word(c))
		w.open('{')
		w.integer("um", int64(d.Distance))
		putWord(w, "from", d.Origin)
		w.bool("at_least", d.AtLeast)
		if d.State != 0 {
			putWord(w, "state", d.State)
		}
		*w = append(*w, '}')
	}
	*w = append(*w, '}')
}

// places writes the distances that are known, by class.
func (w *jsonText) places(from *Places) {
	w.open('{')
	for rest := from.known; !rest.Empty(); rest &= rest - 1 {
		c := rest.first()
		d, _ := from.Get(c)
		w.key(word(c))
		w.open('{')
		w.integer("um", int64(d.Distance))
		w.bool("at_least", d.AtLeast)
		*w = append(*w, '}')
	}
	*w = append(*w, '}')
}
