package rules

// Decision is what the rules say of one treatment of one stem on one day.
// Decisions are ordered: combining two gives the greater.
type Decision uint8

// The lattice, from the most to the least permissive.
const (
	Allowed      Decision = iota // no row speaks against it
	Conditional                  // allowed if every condition listed is met
	Undetermined                 // something that decides is not known: do not treat
	Prohibited                   // a row forbids it
)

var decisionWords = [...]string{"ALLOWED", "CONDITIONAL", "UNDETERMINED", "PROHIBITED"}

// String gives the decision in capitals, as it is printed. What is no decision
// reads as the strictest.
func (d Decision) String() string { return decisionWords[min(d, Prohibited)] }

// Stricter gives the stricter of two decisions.
func Stricter(a, b Decision) Decision { return max(a, b) }

// MarshalText writes the decision as it is printed.
func (d Decision) MarshalText() ([]byte, error) { return []byte(d.String()), nil }
