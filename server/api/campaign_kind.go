package api

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strings"
	"time"

	"google.golang.org/grpc/codes"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"
	"google.golang.org/protobuf/types/known/fieldmaskpb"
	"google.golang.org/protobuf/types/known/timestamppb"

	"example.org/rootward/server/ledger"
)

// thing is a message that is kept in versions.
type thing interface {
	proto.Message
	GetName() string
	GetVersion() int64
	GetEtag() string
}

// The kinds of things, as the log and the fields of requests have them.
const (
	siteKind   = "site"
	surveyKind = "survey"
	planKind   = "plan"
	recordKind = "record"
	visitKind  = "visit"
)

// kind is how one kind of thing is kept.
type kind[T thing] struct {
	word   string                  // as the log and the fields of requests have it: "survey"
	plural string                  // as names have it: "surveys"
	ofSite bool                    // its names begin with that of a site
	output []protoreflect.Name     // its fields that are output only
	blank  func() T                // an empty one
	check  func(*faults, T)        // what can be told from it alone; fields are told as its own
	fill   func(*filling[T]) error // writes what is output only and depends on what else is kept
}

// filling is a thing on its way into the log.
type filling[T thing] struct {
	context.Context
	*Campaign
	*history // of its site; nil for a plan
	thing    T
	last     T // the version before; nil for the first
	now      time.Time
}

const maxNotes = 4_000

var idPattern = regexp.MustCompile(`^[a-z]([a-z0-9-]{0,61}[a-z0-9])?$`)

// id reads the last part of a name.
func (f *faults) id(field, s string) string {
	f.unless(idPattern.MatchString(s), field, "%s is not an id: begin with a small letter, and go on with small letters, digits and \"-\", at most 63 characters", quoted(s))
	return s
}

// resource reads a name that is made of the words and an id after each: "sites/a".
func (f *faults) resource(field, name string, words ...string) string {
	parts := strings.Split(name, "/")
	ok := len(parts) == 2*len(words)
	for i, word := range words {
		ok = ok && parts[2*i] == word && idPattern.MatchString(parts[2*i+1])
	}
	f.unless(ok, field, "%s is not a name of the form %q", quoted(name), strings.Join(words, "/ID/")+"/ID")
	return name
}

// words are those in the names of the kind.
func (k *kind[T]) words() []string {
	if k.ofSite {
		return []string{"sites", k.plural}
	}
	return []string{k.plural}
}

// creation is a request to keep something new.
type creation[T thing] struct {
	call                proto.Message
	parent, id, request string
	thing               T
}

// create keeps the first version of a thing.
func create[T thing](ctx context.Context, s *Campaign, k *kind[T], q creation[T]) (T, error) {
	var none T
	if err := s.keeping(); err != nil {
		return none, err
	}
	var f faults
	name := k.plural + "/" + f.id(k.word+"_id", q.id)
	if k.ofSite {
		name = f.resource("parent", q.parent, "sites") + "/" + name
	}
	request := f.uuid("request_id", q.request)
	t := clone(k, q.thing)
	k.clear(t)
	k.examine(&f, t)
	if err := f.err(); err != nil {
		return none, err
	}
	return write(ctx, s, k, &writing[T]{call: q.call, request: request, name: name, version: 1, thing: t})
}

// change is a request to keep the next version of a thing.
type change[T thing] struct {
	call    proto.Message
	mask    *fieldmaskpb.FieldMask
	request string
	thing   T
}

// update keeps the next version of a thing.
func update[T thing](ctx context.Context, s *Campaign, k *kind[T], q change[T]) (T, error) {
	var none T
	if err := s.keeping(); err != nil {
		return none, err
	}
	var f faults
	name := f.resource(k.word+".name", q.thing.GetName(), k.words()...)
	request := f.uuid("request_id", q.request)
	fields := k.masked(&f, q.mask)
	if err := f.err(); err != nil {
		return none, err
	}
	if t, done, err := repeated(ctx, s, k, q.call, request); done {
		return t, err
	}
	e, err := s.ledger.Get(ctx, name, 0)
	if err != nil {
		return none, ledgerRefused(err, name)
	}
	last, err := k.read(e)
	if err != nil {
		return none, err
	}
	if etag := q.thing.GetEtag(); etag != "" && etag != last.GetEtag() {
		return none, fail(codes.Aborted, ThingChanged, facts{"name": name}, "%s.etag: %s is not that of the last version, %s: read it, and change that", k.word, quoted(etag), last.GetEtag())
	}
	t := clone(k, last)
	k.clear(t)
	copyFields(t, q.thing, fields)
	setInt(t, "version", e.Version+1)
	k.examine(&f, t)
	if err := f.err(); err != nil {
		return none, err
	}
	return write(ctx, s, k, &writing[T]{call: q.call, request: request, name: name, version: e.Version + 1, thing: t, last: last})
}

// writing is a checked thing that is to be kept.
type writing[T thing] struct {
	call          proto.Message
	request, name string
	version       int64
	thing, last   T
}

// tries is how often a write is decided anew when its site changes meanwhile.
const tries = 10

// write completes a thing and keeps it, if its site is still as it was read then.
func write[T thing](ctx context.Context, s *Campaign, k *kind[T], w *writing[T]) (T, error) {
	var none T
	if t, done, err := repeated(ctx, s, k, w.call, w.request); done {
		return t, err
	}
	for try := 1; ; try++ {
		e, err := attempt(ctx, s, k, w)
		if err == nil {
			return k.read(e)
		}
		if errors.Is(err, ledger.ErrVersion) && w.version == 1 {
			return none, fail(codes.Aborted, ThingChanged, facts{"name": w.name}, "there is %s already: give what is new another id, or read and change what is there", quoted(w.name))
		}
		if !errors.Is(err, ledger.ErrChanged) || try == tries {
			return none, ledgerRefused(err, w.name)
		}
	}
}

func attempt[T thing](ctx context.Context, s *Campaign, k *kind[T], w *writing[T]) (*ledger.Entry, error) {
	d := ledger.Draft{
		Name: w.name, Kind: k.word, Site: siteOf(w.name), Version: w.version, Request: w.request,
		Digest: requestDigest(w.call), Time: s.now().UTC().Truncate(time.Microsecond), Read: -1,
	}
	fill := &filling[T]{Context: ctx, Campaign: s, thing: clone(k, w.thing), last: w.last, now: d.Time}
	if k.ofSite {
		h, err := s.history(ctx, d.Site)
		if err != nil {
			return nil, err
		}
		fill.history, d.Read = h, h.entries
	}
	setString(fill.thing, "name", w.name)
	setInt(fill.thing, "version", w.version)
	setTime(fill.thing, "update_time", d.Time)
	if k.fill != nil {
		if err := k.fill(fill); err != nil {
			return nil, err
		}
	}
	var err error
	if d.Body, err = body(fill.thing); err != nil {
		return nil, err
	}
	return s.ledger.Append(ctx, d)
}

// repeated gives what a request has made before, if it has.
func repeated[T thing](ctx context.Context, s *Campaign, k *kind[T], call proto.Message, request string) (t T, done bool, err error) {
	e, err := s.ledger.Repeated(ctx, request)
	if errors.Is(err, ledger.ErrUnknown) {
		return t, false, nil
	}
	if err == nil && (e.Digest != requestDigest(call) || e.Kind != k.word) {
		err = ledger.ErrRequest
	}
	if err != nil {
		return t, true, ledgerRefused(err, request)
	}
	t, err = k.read(e)
	return t, true, err
}

// get gives a version of a thing, the last one for 0.
func get[T thing](ctx context.Context, s *Campaign, k *kind[T], name string, version int64) (T, error) {
	var none T
	if err := s.keeping(); err != nil {
		return none, err
	}
	var f faults
	f.resource("name", name, k.words()...)
	f.unless(version >= 0, "version", "is %d: versions are numbered from 1; 0 is the last", version)
	if err := f.err(); err != nil {
		return none, err
	}
	e, err := s.ledger.Get(ctx, name, version)
	if err != nil {
		return none, ledgerRefused(err, name)
	}
	return k.read(e)
}

const defaultThings = 50

// listing is a request for a page.
type listing struct {
	parent string
	size   int32
	token  string
}

// list gives a page of things by name, and the token of the next.
func list[T thing](ctx context.Context, s *Campaign, k *kind[T], q listing) ([]T, string, error) {
	if err := s.keeping(); err != nil {
		return nil, "", err
	}
	var f faults
	page := ledger.Page{Kind: k.word, Size: int(q.size), After: f.name("page_token", q.token)}
	f.unless(q.size >= 0 && q.size <= maxPage, "page_size", "is %d: ask for 1 to %d, or for 0, which is %d", q.size, maxPage, defaultThings)
	f.keepable("page_token", q.token)
	if k.ofSite {
		page.Site = f.resource("parent", q.parent, "sites")
	}
	if err := f.err(); err != nil {
		return nil, "", err
	}
	if page.Size == 0 {
		page.Size = defaultThings
	}
	entries, err := s.ledger.List(ctx, page)
	if err != nil {
		return nil, "", err
	}
	var out []T
	for _, e := range entries {
		t, err := k.read(e)
		if err != nil {
			return nil, "", err
		}
		out = append(out, t)
	}
	if len(out) < page.Size {
		return out, "", nil
	}
	return out, out[len(out)-1].GetName(), nil
}

// examine checks a thing and tells its faults as those of the request's field.
func (k *kind[T]) examine(f *faults, t T) {
	var own faults
	k.check(&own, t)
	for _, fault := range own.list {
		f.add(k.word+"."+fault.Field, "%s", fault.Problem)
	}
}

// clear empties what a caller cannot say.
func (k *kind[T]) clear(t T) {
	m := t.ProtoReflect()
	for _, name := range append([]protoreflect.Name{"name", "version", "etag", "update_time"}, k.output...) {
		m.Clear(m.Descriptor().Fields().ByName(name))
	}
}

// masked gives the fields that a mask names, all that a caller can say for none.
func (k *kind[T]) masked(f *faults, mask *fieldmaskpb.FieldMask) []protoreflect.Name {
	own := map[protoreflect.Name]bool{"name": true, "version": true, "etag": true, "update_time": true}
	for _, name := range k.output {
		own[name] = true
	}
	var all, named []protoreflect.Name
	fields := k.blank().ProtoReflect().Descriptor().Fields()
	for i := range fields.Len() {
		if name := fields.Get(i).Name(); !own[name] {
			all = append(all, name)
		}
	}
	for i, path := range mask.GetPaths() {
		name := protoreflect.Name(path)
		at := fmt.Sprintf("update_mask.paths[%d]", i)
		switch {
		case fields.ByName(name) == nil:
			f.add(at, "%s is not a field of a %s: name whole fields, as the proto file has them", quoted(path), k.word)
		case own[name]:
			f.add(at, "%s is written by the server: leave it out", quoted(path))
		}
		named = append(named, name)
	}
	if len(named) == 0 {
		return all
	}
	return named
}

// read gives what an entry holds.
func (k *kind[T]) read(e *ledger.Entry) (T, error) { return readInto(k.blank(), e) }

func readInto[T thing](t T, e *ledger.Entry) (T, error) {
	if err := (protojson.UnmarshalOptions{DiscardUnknown: true}).Unmarshal(e.Body, t); err != nil {
		return t, fmt.Errorf("entry %d of the log, %s, cannot be read: %w", e.Number, e.Name, err)
	}
	sum := sha256.Sum256(e.Body)
	setString(t, "etag", fmt.Sprintf("%d-%x", e.Version, sum[:8]))
	return t, nil
}

// body is a message as it is kept: on one line, the same for the same message.
func body(m proto.Message) ([]byte, error) {
	text, err := protojson.MarshalOptions{UseProtoNames: true}.Marshal(m)
	if err != nil {
		return nil, err
	}
	var one bytes.Buffer
	err = json.Compact(&one, text) // protojson puts spaces where it likes
	return one.Bytes(), err
}

// requestDigest is equal for equal requests.
func requestDigest(call proto.Message) [32]byte {
	b, err := proto.MarshalOptions{Deterministic: true}.Marshal(call)
	if err != nil {
		panic(err) // it has just been read from the wire
	}
	return sha256.Sum256(append([]byte(call.ProtoReflect().Descriptor().FullName()), b...))
}

// clone copies a message; a nil one becomes an empty one.
func clone[T thing](k *kind[T], t T) T {
	copied := k.blank()
	proto.Merge(copied, t)
	return copied
}

func copyFields(to, from proto.Message, fields []protoreflect.Name) {
	source := proto.Clone(from).ProtoReflect()
	for _, name := range fields {
		d := source.Descriptor().Fields().ByName(name)
		if source.Has(d) {
			to.ProtoReflect().Set(d, source.Get(d))
		} else {
			to.ProtoReflect().Clear(d)
		}
	}
}

func setField(m proto.Message, name protoreflect.Name, v protoreflect.Value) {
	p := m.ProtoReflect()
	p.Set(p.Descriptor().Fields().ByName(name), v)
}

func setString(m proto.Message, name protoreflect.Name, s string) {
	setField(m, name, protoreflect.ValueOfString(s))
}

func setInt(m proto.Message, name protoreflect.Name, n int64) {
	setField(m, name, protoreflect.ValueOfInt64(n))
}

func setTime(m proto.Message, name protoreflect.Name, t time.Time) {
	setField(m, name, protoreflect.ValueOfMessage(timestamppb.New(t).ProtoReflect()))
}

// corrected asks for the reason of a version that takes the place of another.
func (f *faults) corrected(version int64, correction string) {
	f.unless(version <= 1 || correction != "", "correction", "is empty: say why this takes the place of the version before")
	f.text("correction", correction, maxNotes)
}

// text reads words for people.
func (f *faults) text(field, s string, most int) {
	f.unless(len(s) <= most, field, "has %d bytes; at most %d can be: shorten it", len(s), most)
	f.keepable(field, s)
}

func names(list ...protoreflect.Name) []protoreflect.Name { return list }
