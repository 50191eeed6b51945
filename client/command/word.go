package command

import (
	"strings"

	"github.com/alecthomas/kong"

	"example.org/rootward/rules"
)

// word is a flag that takes one word of a vocabulary; absent it is "not stated".
type word[T rules.Vocabulary] struct{ value T }

// UnmarshalText reads the word.
func (w *word[T]) UnmarshalText(text []byte) error {
	v, err := rules.ParseWord[T](string(text))
	w.value = v
	return err
}

// withVocabulary gives each help text the words that it names. For all of them to stand
// for all flags takes half of the time of a small command.
func withVocabulary(k *kong.Kong) error {
	all := vocabulary()
	return kong.Visit(k.Model.Node, func(node kong.Visitable, next kong.Next) error {
		if v, ok := node.(*kong.Value); ok && strings.Contains(v.Help, "${") {
			v.Tag.Vars = kong.Vars{}
			for name, words := range all {
				if strings.Contains(v.Help, "${"+name+"}") {
					v.Tag.Vars[name] = words
				}
			}
		}
		return next(nil)
	})
}

// vocabulary is the words of each vocabulary.
func vocabulary() kong.Vars {
	return kong.Vars{
		"methods": words[rules.Method](), "equipment": words[rules.Equipment](), "forms": words[rules.GrowthForm](),
		"standings": words[rules.Standing](), "desirables": words[rules.Desirable](), "landuses": words[rules.LandUse](),
		"soils": words[rules.SoilState](), "barks": words[rules.BarkState](), "rootchecks": words[rules.RootCheck](),
		"yesno": words[rules.YesNo](), "waters": words[rules.WaterClass](), "origins": words[rules.DistanceOrigin](),
		"suckering": words[rules.Suckering](), "kinds": words[rules.FormulationKind](), "droplets": words[rules.Droplet](),
		"toxicities": words[rules.ToxicityCategory](), "uses": words[rules.RestrictedUse](), "aquatic": words[rules.AquaticLabel](),
		"soilactivity": words[rules.SoilActivity](), "places": words[rules.PlaceClass](), "waterstates": words[rules.WaterState](),
		"categories": words[rules.CertificationCategory](), "driftcontrols": words[rules.DriftControl](),
	}
}

func words[T interface {
	rules.Vocabulary
	String() string
}]() string {
	var list []string
	for _, v := range rules.Words[T]() {
		list = append(list, v.String())
	}
	return strings.Join(list, ", ")
}
