package rulewire

import (
	"time"

	pluginv1 "example.org/rootward/proto/gen/rootward/plugin/v1"
	"example.org/rootward/rules"
	"example.org/rootward/rules/civil"
)

// maxWords bounds, in bytes, what a computed row may say of one site.
const maxWords = 1_000

// EncodeAnswers writes the answers of one row in columns. Sites that are told the
// same words share them.
func EncodeAnswers(row string, answers []rules.Answer) *pluginv1.RuleAnswers {
	p := &pluginv1.RuleAnswers{RuleId: row}
	at := map[string]int32{}
	for _, a := range answers {
		word, ok := at[a.Words]
		if !ok {
			word = int32(len(p.Words))
			at[a.Words] = word
			p.Words = append(p.Words, a.Words)
		}
		p.Kind = append(p.Kind, pluginv1.AnswerKind(a.Kind))
		p.FromMmdd = append(p.FromMmdd, mmdd(a.Open.From))
		p.ToMmdd = append(p.ToMmdd, mmdd(a.Open.To))
		p.Word = append(p.Word, word)
	}
	return p
}

// mmdd gives for a day that is none what stands for none, lest it become another.
func mmdd(d civil.DayOfYear) int32 {
	switch {
	case d == civil.DayOfYear{}:
		return 0
	case !d.Valid():
		return noDay
	}
	return int32(d.Month)*100 + int32(d.Day)
}

const noDay = -1

// DecodeAnswers reads the answers of a row for a number of sites. What a plugin
// sends is not trusted: an answer that is not wholly one of those that can be given
// is an error, a rules.Faults, for it could open what is closed.
func DecodeAnswers(p *pluginv1.RuleAnswers, row string, sites int) ([]rules.Answer, error) {
	r := &reader{row: row}
	r.noUnknown("answers", p.ProtoReflect())
	if p.GetRuleId() != row {
		r.add("rule_id", "is %.80q; answer in the order in which the rows were asked for", p.GetRuleId())
	}
	for _, column := range []struct {
		field string
		n     int
	}{{"kind", len(p.GetKind())}, {"from_mmdd", len(p.GetFromMmdd())}, {"to_mmdd", len(p.GetToMmdd())}, {"word", len(p.GetWord())}} {
		if column.n != sites {
			r.add(column.field, "has %d values for %d sites; give one a site", column.n, sites)
		}
	}
	for _, w := range p.GetWords() {
		if w == "" || len(w) > maxWords {
			r.add("words", "has %d bytes; say in 1 to %d what was computed and from what", len(w), maxWords)
		}
	}
	if err := r.err(); err != nil {
		return nil, err
	}
	answers := make([]rules.Answer, sites)
	for i := range answers {
		if answers[i] = r.answer(p, i); len(r.faults) > 0 {
			return nil, r.err() // one is enough: a plugin answers all alike
		}
	}
	return answers, nil
}

func (r *reader) answer(p *pluginv1.RuleAnswers, i int) rules.Answer {
	a := rules.Answer{
		Kind: rules.AnswerKind(p.GetKind()[i]),
		Open: civil.Window{From: dayOf(p.GetFromMmdd()[i]), To: dayOf(p.GetToMmdd()[i])},
	}
	if k := p.GetKind()[i]; k < pluginv1.AnswerKind_ANSWER_KIND_NOT_RESTRICTED || k > pluginv1.AnswerKind_ANSWER_KIND_UNDETERMINED {
		r.add("kind", "%d of site %d is no answer", k, i)
	}
	switch {
	case a.Kind == rules.OpenDuring && !a.Open.Valid():
		r.add("from_mmdd", "site %d is open from %d to %d, which are no days of a year", i, p.GetFromMmdd()[i], p.GetToMmdd()[i])
	case a.Kind != rules.OpenDuring && (p.GetFromMmdd()[i] != 0 || p.GetToMmdd()[i] != 0):
		r.add("from_mmdd", "site %d is not open for part of the year, yet days are stated", i)
	}
	if w := p.GetWord()[i]; w < 0 || int(w) >= len(p.GetWords()) {
		r.add("word", "%d of site %d points beyond %d words", w, i, len(p.GetWords()))
	} else {
		a.Words = p.GetWords()[w]
	}
	return a
}

// dayOf gives a day that is not valid for what is no day.
func dayOf(mmdd int32) civil.DayOfYear {
	return civil.DayOfYear{Month: time.Month(mmdd / 100), Day: int(mmdd % 100)}
}
