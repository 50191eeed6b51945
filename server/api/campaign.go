package api

import (
	"context"
	"errors"
	"iter"
	"strings"
	"sync"
	"time"

	"google.golang.org/grpc/codes"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
	"example.org/rootward/server/ledger"
)

// Ledger is what CampaignService asks of the log that it keeps everything in. Its
// methods may be called from several goroutines, and what they have confirmed survives
// a kill and a loss of power. Their errors wrap those of package ledger.
type Ledger interface {
	// Append keeps an entry. The same request with the same digest gives the entry that
	// it made before.
	Append(ctx context.Context, d ledger.Draft) (*ledger.Entry, error)
	// Repeated gives the entry that a request made; ErrUnknown if it made none.
	Repeated(ctx context.Context, request string) (*ledger.Entry, error)
	// Get gives a version of a thing, the last one for 0.
	Get(ctx context.Context, name string, version int64) (*ledger.Entry, error)
	// Site gives all entries of a site in the order of the log.
	Site(ctx context.Context, site string) ([]*ledger.Entry, error)
	// List gives a page of last versions, by name.
	List(ctx context.Context, p ledger.Page) ([]*ledger.Entry, error)
	// Kind gives the last versions of all of a kind, in the order of the log.
	Kind(ctx context.Context, kind string) ([]*ledger.Entry, error)
	// Entries gives entries in the order of the log, from one number to before another.
	Entries(ctx context.Context, first, end int64) iter.Seq2[*ledger.Entry, error]
	// PutTable keeps a rule table under its digest, in hexadecimal digits.
	PutTable(ctx context.Context, digest string, table []byte) error
	// Table gives a rule table; ErrUnknown if it is not kept.
	Table(ctx context.Context, digest string) ([]byte, error)
	// Tables lists the digests of the tables that are kept.
	Tables(ctx context.Context) ([]string, error)
	// Checkpoint gives the signed checkpoint of the log as it is, with its size.
	Checkpoint(ctx context.Context) (signed []byte, size int64, err error)
	// Verifier is the public key of the log, as signed notes have it.
	Verifier() string
	// Origin is the first line of the log's checkpoints.
	Origin() string
}

// Campaign serves CampaignService. What it keeps, it keeps in a Ledger.
type Campaign struct {
	campaignv1.UnimplementedCampaignServiceServer
	prescriber *Treatment // with the law and the catalogue
	ledger     Ledger     // nil: nothing is kept
	now        func() time.Time
	plans      planCache
	oneByOne   sync.Mutex // plans are made
}

// NewCampaign makes the service. Without a Ledger it says to each call how a server is
// started that has one.
func NewCampaign(with Services) *Campaign {
	s := &Campaign{prescriber: NewTreatment(with), ledger: with.Ledger, now: with.Now}
	if s.now == nil {
		s.now = time.Now
	}
	return s
}

// keeping is an error unless the server keeps campaigns.
func (s *Campaign) keeping() error {
	if s.ledger != nil {
		return nil
	}
	return fail(codes.Unimplemented, NoCampaigns, nil, "this server keeps no campaigns: start it with --data DIR, or with --database URL and --record-key FILE if several servers are to share them; TreatmentService decides without keeping anything")
}

// ledgerRefused tells what the log says in a status.
func ledgerRefused(err error, name string) error {
	switch {
	case errors.Is(err, ledger.ErrUnknown):
		return fail(codes.NotFound, ThingNotFound, facts{"name": name}, "name: there is no %s: List gives the names there are", quoted(name))
	case errors.Is(err, ledger.ErrVersion):
		return fail(codes.Aborted, ThingChanged, facts{"name": name}, "%s was changed by others meanwhile: read its last version, and change that", quoted(name))
	case errors.Is(err, ledger.ErrChanged):
		return fail(codes.Aborted, ThingChanged, facts{"name": name}, "the site of %s is being changed by others: ask again", name)
	case errors.Is(err, ledger.ErrRequest):
		return fail(codes.AlreadyExists, RequestDiffers, nil, "request_id was used for another write: use an id of its own for each, and the same id only to ask again for the same")
	}
	return err
}

// siteOf is the name of the site that a thing belongs to, and empty for a plan.
func siteOf(name string) string {
	parts := strings.Split(name, "/")
	if len(parts) < 2 || parts[0] != "sites" {
		return ""
	}
	return parts[0] + "/" + parts[1]
}
