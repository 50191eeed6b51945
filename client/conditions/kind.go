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
	Register
	Hours
	Weather
	Water
	Place
	Season
	EntryInterval
	ExclusionZone
	Record
	Warning
	Prohibition
	AnnualMaximum
	Threshold
	SeasonName // a part of the year gets its name; it asks for nothing
	Other      // what the row does is not known here
)

var titles = map[Kind]string{
	Standing: "Who may apply", Permit: "Permits", Notice: "Who is told beforehand", Posting: "Signs",
	Register: "Registers to look up", Hours: "Hours of the day",
	Weather: "Weather", Water: "Distance to water", Place: "Distance to places", Season: "Part of the year", EntryInterval: "No entry afterwards",
	ExclusionZone: "Exclusion zone during application", Record: "Records", Warning: "Warnings",
	Prohibition: "Forbidden", AnnualMaximum: "Annual maximum", Threshold: "Use over the year", SeasonName: "Seasons", Other: "Other rules that apply",
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
	case *ruletablev1.Effect_Setback:
		return Place
	case *ruletablev1.Effect_Window, *ruletablev1.Effect_Computed:
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
	case *ruletablev1.Effect_Lookup:
		return Register
	case *ruletablev1.Effect_DailyHours:
		return Hours
	case *ruletablev1.Effect_UseThreshold:
		return Threshold
	}
	return Other
}
