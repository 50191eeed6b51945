package conditions

import ruletablev1 "example.org/rootward/proto/gen/rootward/ruletable/v1"

// Kind is what a condition is about. The order is that in which people need to
// know: what has to be arranged first comes first.
type Kind uint8

// The kinds.
const (
	Standing Kind = iota + 1
	Permit
	Notice
	Posting
	Weather
	Water
	Season
	EntryInterval
	ExclusionZone
	Record
	Warning
	Prohibition
	AnnualMaximum
	SeasonName // a part of the year gets its name; it asks for nothing
	Other      // what the row does is not known here
)

var titles = map[Kind]string{
	Standing: "Who may apply", Permit: "Permits", Notice: "Who is told beforehand", Posting: "Signs",
	Weather: "Weather", Water: "Distance to water", Season: "Part of the year", EntryInterval: "No entry afterwards",
	ExclusionZone: "Exclusion zone during application", Record: "Records", Warning: "Warnings",
	Prohibition: "Forbidden", AnnualMaximum: "Annual maximum", SeasonName: "Seasons", Other: "Other rules that apply",
}

// Title gives the kind in words, as a heading.
func (k Kind) Title() string { return titles[k] }

// kindOf is the kind of an effect; one that is absent or new to this client is
// Other, so that it is shown all the same.
func kindOf(e *ruletablev1.Effect) Kind {
	switch e.GetKind().(type) {
	case *ruletablev1.Effect_Standing:
		return Standing
	case *ruletablev1.Effect_Permit:
		return Permit
	case *ruletablev1.Effect_Notice:
		return Notice
	case *ruletablev1.Effect_Posting:
		return Posting
	case *ruletablev1.Effect_Weather:
		return Weather
	case *ruletablev1.Effect_Buffer:
		return Water
	case *ruletablev1.Effect_Window:
		return Season
	case *ruletablev1.Effect_EntryInterval:
		return EntryInterval
	case *ruletablev1.Effect_ExclusionZone:
		return ExclusionZone
	}
	return lesserKindOf(e)
}

func lesserKindOf(e *ruletablev1.Effect) Kind {
	switch e.GetKind().(type) {
	case *ruletablev1.Effect_Record:
		return Record
	case *ruletablev1.Effect_Warn:
		return Warning
	case *ruletablev1.Effect_Prohibit:
		return Prohibition
	case *ruletablev1.Effect_Cap:
		return AnnualMaximum
	case *ruletablev1.Effect_Season:
		return SeasonName
	}
	return Other
}
