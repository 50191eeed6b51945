package comparison

import (
	"fmt"
	"strings"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/wording"
)

// wordlist is the different answers there are.
type wordlist struct {
	list []answer
	at   map[answer]uint32
	// recent are answers by what they share an explanation with. While it is in here
	// an explanation's address is not used for another.
	recent map[shared]uint32
}

// answer is what an answer to a row comes to.
type answer struct {
	outcome   treatmentv1.Outcome
	treatment string // with what the law says of it
	rules     string // that decided
}

// String tells outcome, treatment and, of the deciding rules, the first few.
func (a *answer) String() string {
	text := wording.Outcome(a.outcome) + a.treatment
	if a.rules == "" {
		return text
	}
	names := strings.Split(a.rules, ", ")
	if n := len(names) - maxRules; n > 1 {
		names = append(names[:maxRules], fmt.Sprintf("%d more", n))
	}
	return text + ", by " + strings.Join(names, ", ")
}

// maxRules is how many deciding rules are named.
const maxRules = 4

type shared struct {
	outcome     treatmentv1.Outcome
	explanation *treatmentv1.Explanation
}

// maxRecent bounds how many explanations are kept alive.
const maxRecent = 4_096

// index gives the place of a row's answer in the list, to which it adds what is new.
func (w *wordlist) index(r *client.Row) uint32 {
	key := shared{r.Outcome, r.Explanation}
	if i, ok := w.recent[key]; ok {
		return i
	}
	if w.recent == nil || len(w.recent) >= maxRecent {
		w.recent = map[shared]uint32{}
	}
	i := w.add(answerOf(r))
	w.recent[key] = i
	return i
}

func (w *wordlist) add(a answer) uint32 {
	i, ok := w.at[a]
	if !ok {
		if w.at == nil {
			w.at = map[answer]uint32{}
		}
		i = uint32(len(w.list))
		w.list, w.at[a] = append(w.list, a), i
	}
	return i
}

func answerOf(r *client.Row) answer {
	a := answer{outcome: r.Outcome}
	if r.Outcome == treatmentv1.Outcome_OUTCOME_REJECTED {
		return a
	}
	c := r.Explanation.GetChoice()
	if c != nil {
		a.treatment = ", " + wording.Method(c.GetMethod())
		if c.GetActive() != "" {
			a.treatment += " with " + c.GetActive()
		}
		if d := wording.Decision(c.GetDecision()); d != "" {
			a.treatment += ", by law " + d
		}
	}
	a.rules = deciding(r.Explanation.GetFindings(), c.GetDecision())
	if a.rules == "" && c.GetDecision() == commonv1.Decision_DECISION_UNDETERMINED {
		a.rules = "law that is not at hand"
	}
	return a
}

// deciding names the rules that said the strictest, unless the decision is stricter
// still: then it is for law that is not at hand.
func deciding(findings []*rulesetv1.Finding, decision commonv1.Decision) string {
	strictest := max(decision, commonv1.Decision_DECISION_CONDITIONAL)
	for _, f := range findings {
		strictest = max(strictest, f.GetDecision())
	}
	var names []string
	for _, f := range findings {
		if f.GetDecision() == strictest {
			names = append(names, f.GetRuleSet().GetRuleSetId()+"/"+f.GetRuleId())
		}
	}
	return strings.Join(names, ", ")
}
