package columnar

import (
	"sync"

	"google.golang.org/genproto/googleapis/type/date"
	"google.golang.org/protobuf/encoding/protowire"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	commonv1 "example.org/rootward/proto/gen/rootward/common/v1"
	rulesetv1 "example.org/rootward/proto/gen/rootward/ruleset/v1"
	treatmentv1 "example.org/rootward/proto/gen/rootward/treatment/v1"
)

// known are explanations by their encoding, which one answer to single stems has after
// the other. Who reads an answer gets copies that are his alone but for the bytes of
// texts, which nobody can change. It is safe for concurrent use.
type known struct {
	sync.RWMutex
	read  map[string]*treatmentv1.Explanation // never changed
	bytes int                                 // of the keys, and of what was read of them
}

// What is kept at most, in bytes, and about what a message takes beside its texts.
const (
	maxKnownBytes  = 4 << 20
	bytesOfMessage = 256
)

// answer reads an answer as protobuf does.
func (k *known) answer(text []byte, m *treatmentv1.PrescribeResponse) error {
	proto.Reset(m)
	for len(text) > 0 {
		others, explanation, rest, err := cutExplanation(text)
		if err != nil {
			return err
		}
		// What protobuf reads one behind the other it takes for one message.
		if err := (proto.UnmarshalOptions{Merge: true}).Unmarshal(others, m); err != nil {
			return err
		}
		if explanation != nil {
			e, err := k.explanation(explanation)
			if err != nil {
				return err
			}
			m.Explanations = append(m.Explanations, e)
		}
		text = rest
	}
	return nil
}

// cutExplanation gives the fields of an answer before the next explanation, that one, nil
// if there is none, and what is behind it.
func cutExplanation(answer []byte) (before, explanation, behind []byte, err error) {
	const field = 3
	for at := 0; at < len(answer); {
		number, kind, n := protowire.ConsumeTag(answer[at:])
		if n < 0 {
			return nil, nil, nil, protowire.ParseError(n)
		}
		m := protowire.ConsumeFieldValue(number, kind, answer[at+n:])
		if m < 0 {
			return nil, nil, nil, protowire.ParseError(m)
		}
		end := at + n + m
		if number == field && kind == protowire.BytesType {
			explanation, _ = protowire.ConsumeBytes(answer[at+n : end])
			return answer[:at], explanation, answer[end:], nil
		}
		at = end
	}
	return answer, nil, nil, nil
}

func (k *known) explanation(text []byte) (*treatmentv1.Explanation, error) {
	k.RLock()
	e := k.read[string(text)]
	k.RUnlock()
	if e != nil {
		return copyOf(e), nil
	}
	e = &treatmentv1.Explanation{}
	if err := proto.Unmarshal(text, e); err != nil {
		return nil, err
	}
	messages, plain := messagesOf(e.ProtoReflect())
	if size := 2*len(text) + bytesOfMessage*messages; !plain || !k.keep(text, e, size) {
		return e, nil
	}
	return copyOf(e), nil
}

// keep forgets all others where there is no room for one more. It does not keep what takes a
// large part of the room.
func (k *known) keep(text []byte, e *treatmentv1.Explanation, size int) bool {
	if size > maxKnownBytes/16 {
		return false
	}
	k.Lock()
	defer k.Unlock()
	if k.bytes+size > maxKnownBytes || k.read == nil {
		k.read, k.bytes = map[string]*treatmentv1.Explanation{}, 0
	}
	if k.read[string(text)] == nil {
		k.read[string(text)], k.bytes = e, k.bytes+size
	}
	return true
}

// messagesOf counts a message and those within it. It reports false if one has fields that
// only a newer server knows: copyOf does not know them either.
func messagesOf(m protoreflect.Message) (n int, plain bool) {
	n, plain = 1, len(m.GetUnknown()) == 0
	add := func(within protoreflect.Message) {
		more, all := messagesOf(within)
		n, plain = n+more, plain && all
	}
	m.Range(func(f protoreflect.FieldDescriptor, v protoreflect.Value) bool {
		switch {
		case f.Message() == nil:
		case f.IsList():
			for i := range v.List().Len() {
				add(v.List().Get(i).Message())
			}
		default:
			add(v.Message())
		}
		return plain
	})
	return n, plain
}

// copyOf copies an explanation field by field, with messages of a kind side by side.
func copyOf(e *treatmentv1.Explanation) *treatmentv1.Explanation {
	lists := len(e.Steps) + len(e.Cautions) + len(e.FollowUp) + len(e.Remedies) + len(e.Conflicts)
	for _, a := range e.Alternatives {
		lists += len(a.Reasons)
	}
	for _, f := range e.Findings {
		lists += len(f.Missing)
	}
	texts := slab[string](make([]string, lists))
	refs := slab[commonv1.RuleSetRef](make([]commonv1.RuleSetRef, len(e.Findings)))
	return &treatmentv1.Explanation{
		Choice: copyOfChoice(e.Choice), Why: e.Why,
		Alternatives: each(e.Alternatives, func(to, from *treatmentv1.Alternative) {
			to.Method, to.FormulationId, to.Reasons, to.Decision = from.Method, from.FormulationId, texts.of(from.Reasons), from.Decision
		}),
		Findings: each(e.Findings, func(to, from *rulesetv1.Finding) {
			if from.RuleSet != nil {
				to.RuleSet = &refs.next(1)[0]
				copyRef(to.RuleSet, from.RuleSet)
			}
			to.RuleId, to.Decision, to.Purpose, to.Text = from.RuleId, from.Decision, from.Purpose, from.Text
			to.Citation, to.Uncertain, to.Missing = from.Citation, from.Uncertain, texts.of(from.Missing)
		}),
		Dates: copyOfDates(e.Dates), Steps: texts.of(e.Steps), Cautions: texts.of(e.Cautions),
		FollowUp: texts.of(e.FollowUp), Remedies: texts.of(e.Remedies), SecondPass: copyOfChoice(e.SecondPass),
		RuleSets: each(e.RuleSets, copyRef), Conflicts: texts.of(e.Conflicts),
	}
}

// slab is memory for values that are made one after the other.
type slab[T any] []T

func (s *slab[T]) next(n int) []T {
	list := (*s)[:n:n]
	*s = (*s)[n:]
	return list
}

// of copies a list.
func (s *slab[T]) of(list []T) []T {
	if len(list) == 0 {
		return nil
	}
	to := s.next(len(list))
	copy(to, list)
	return to
}

// each copies the messages of a list.
func each[M any](list []*M, write func(to, from *M)) []*M {
	if len(list) == 0 {
		return nil
	}
	memory, to := make([]M, len(list)), make([]*M, len(list))
	for i, from := range list {
		to[i] = &memory[i]
		write(to[i], from)
	}
	return to
}

func copyOfChoice(c *treatmentv1.Choice) *treatmentv1.Choice {
	if c == nil {
		return nil
	}
	return &treatmentv1.Choice{
		Method: c.Method, FormulationId: c.FormulationId, Formulation: c.Formulation, Active: c.Active,
		Carrier: c.Carrier, MixGAePerL: c.MixGAePerL, Decision: c.Decision, SignalWord: c.SignalWord,
		EntryIntervalH: c.EntryIntervalH, ExclusionZoneFt: c.ExclusionZoneFt, Equipment: c.Equipment,
	}
}

func copyRef(to, from *commonv1.RuleSetRef) {
	to.RuleSetId, to.Version, to.Digest, to.Layer = from.RuleSetId, from.Version, from.Digest, from.Layer
}

func copyOfDates(d *treatmentv1.Dates) *treatmentv1.Dates {
	if d == nil {
		return nil
	}
	days := slab[date.Date](make([]date.Date, 5))
	day := func(from *date.Date) *date.Date {
		if from == nil {
			return nil
		}
		to := &days.next(1)[0]
		to.Year, to.Month, to.Day = from.Year, from.Month, from.Day
		return to
	}
	return &treatmentv1.Dates{
		TreatFrom: day(d.TreatFrom), TreatUntil: day(d.TreatUntil), FellFrom: day(d.FellFrom),
		InspectFrom: day(d.InspectFrom), RetreatFrom: day(d.RetreatFrom),
	}
}
