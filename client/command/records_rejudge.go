package command

import (
	"fmt"
	"slices"
	"strings"

	"google.golang.org/protobuf/encoding/protojson"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/recordlog"
	"example.org/rootward/rules/recordlog/derivation"
	"example.org/rootward/rules/rulewire"
)

// rejudge judges the records of an archive again, by the rule tables in it.
type rejudge struct {
	sets            map[string]*rules.Set // by digest
	records, judged int
}

// table takes a rule table, which must be that of its digest.
func (j *rejudge) table(digest string, data []byte) error {
	set, err := readRuleTable(data)
	if err != nil {
		return err
	}
	if set.Ref.Digest != digest {
		return fmt.Errorf("it is the table of digest %s", set.Ref.Digest)
	}
	j.sets[digest] = set
	return nil
}

// entry gives what is wrong with a record.
func (j *rejudge) entry(e *recordlog.Entry) []string {
	if e.Kind != "record" {
		return nil
	}
	j.records++
	r := &campaignv1.Record{}
	if err := protojson.Unmarshal(e.Body, r); err != nil {
		return []string{fmt.Sprintf("it cannot be read by this version: %v", err)}
	}
	if r.GetName() != e.Name || r.GetVersion() != e.Version {
		return []string{fmt.Sprintf("it says of itself that it is %.200s version %d", r.GetName(), r.GetVersion())}
	}
	if r.GetDerivation() == nil {
		return nil
	}
	j.judged++
	return j.again(r.GetDerivation())
}

func (j *rejudge) again(d *campaignv1.Derivation) []string {
	var wrong []string
	var sets []*rules.Set
	for _, ref := range d.GetRuleSets() {
		set := j.sets[ref.GetDigest()]
		if set == nil {
			wrong = append(wrong, fmt.Sprintf("%s/%.80s, by which it was judged, is missing: ask for a new archive", recordlog.TablesFolder, ref.GetDigest()))
			continue
		}
		sets = append(sets, set)
	}
	on, err := rulewire.DecodeDate(d.GetDate())
	if err != nil {
		return append(wrong, fmt.Sprintf("derivation.date: %v", err))
	}
	treatment, err := rulewire.DecodeTreatment(d.GetTreatment())
	if err != nil {
		return append(wrong, fmt.Sprintf("derivation.treatment: %v", err))
	}
	if len(wrong) > 0 {
		return wrong
	}
	g := rules.Govern(d.GetPlace(), on, sets)
	for i, kept := range d.GetDecisions() {
		if problem := differs(g, treatment, kept); problem != "" {
			wrong = append(wrong, fmt.Sprintf("derivation.decisions[%d]: %s", i, problem))
		}
	}
	return wrong
}

// differs says in what a decision is not the one that the tables give.
func differs(g *rules.Governing, t rules.Treatment, kept *campaignv1.DerivedDecision) string {
	site, err := rulewire.DecodeSurroundings(kept.GetSurroundings())
	if err != nil {
		return fmt.Sprintf("surroundings: %v", err)
	}
	stated, known := rulewire.DecodeDecision(kept.GetDecision())
	decision, names := derivation.Judge(g, t, &site)
	switch {
	case !known || stated != decision:
		return fmt.Sprintf("the record says %s, and its rule tables say %s", stated, decision)
	case !slices.Equal(names, kept.GetRules()):
		return fmt.Sprintf("the record rests on %s, and its rule tables on %s", strings.Join(kept.GetRules(), ", "), strings.Join(names, ", "))
	}
	return ""
}
