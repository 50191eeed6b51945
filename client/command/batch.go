package command

import (
	"errors"
	"fmt"
	"slices"
	"strings"

	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	inventoryv1 "example.org/rootward/proto/gen/rootward/inventory/v1"

	"example.org/rootward/client"
	"example.org/rootward/client/fieldsheet"
	"example.org/rootward/client/measure"
	"example.org/rootward/client/page"
	"example.org/rootward/client/wording"
)

// batches holds the commands below batch.
type batches struct {
	Submit  submitBatch  `cmd:"" help:"Upload an inventory and have it prescribed in the background."`
	Status  batchStatus  `cmd:"" help:"Show how a batch stands."`
	Watch   watchBatch   `cmd:"" help:"Wait until a batch has ended, and show how it gets on."`
	List    listBatches  `cmd:"" help:"List the batches that the server keeps, the newest first."`
	Results batchResults `cmd:"" help:"Write the answers of a batch that succeeded, as prescribe does."`
	Retry   retryBatch   `cmd:"" help:"Decide a batch once more by the law of its start, with what plugins could not compute asked anew."`
	Cancel  cancelBatch  `cmd:"" help:"Stop a batch."`
	Delete  deleteBatch  `cmd:"" help:"Remove a batch that has ended, or was never started, with its results."`
}

var errNoBatches = errors.New("batches outlive a command: name the server that keeps them (--server), or the folder in which a private one does (--data)")

// keeping calls use with a client of a server that keeps batches.
func (r *run) keeping(use func(*client.Client) error) error {
	if r.connection.Server == "" && r.connection.Data == "" {
		return misuse{errNoBatches}
	}
	return r.with(use)
}

type submitBatch struct {
	asking
	Title     string `placeholder:"WORDS" help:"Words for people, to tell the batch from others."`
	RequestID string `name:"request-id" placeholder:"UUID" help:"Id of a submission that was cut off, as it was printed: it goes on where it stopped. Default: a new one."`
	Wait      bool   `help:"Wait until the batch has ended."`
}

// Run uploads and starts a batch.
func (s *submitBatch) Run(r *run) error {
	options, err := s.options()
	if err != nil {
		return err
	}
	if err := s.readable(); err != nil {
		return err
	}
	if s.RequestID == "" {
		s.RequestID = client.NewRequestID()
	}
	return r.keeping(func(c *client.Client) error {
		// Said before anything is sent: a command that is killed says nothing any more.
		if _, err := fmt.Fprintf(r.stderr, "rootward: the request id is %s; if this command is cut off, %s\n", s.RequestID, s.goesOn()); err != nil {
			return err
		}
		var unread int64
		options.Unread = func(rows int64) { unread = rows }
		b, err := c.Submit(r.ctx, s.File, options, s.RequestID, s.Title)
		if err != nil {
			return s.stopped(r, err)
		}
		if s.Wait {
			err = r.watched(c, b.GetBatchId())
		} else {
			err = r.shown(b)
		}
		return errors.Join(err, r.leftOut(unread))
	})
}

// leftOut tells of rows that the server never saw.
func (r *run) leftOut(rows int64) error {
	if rows == 0 {
		return nil
	}
	p := page.On(r.stdout)
	p.Text("  ! ", fmt.Sprintf("rows that could not be read: %d. They were not uploaded, and nothing is prescribed for them; batch results counts them as rejected, and says what is wrong with each", rows))
	return p.Err()
}

// goesOn says how to go on with a submission that was cut off.
func (s *submitBatch) goesOn() string {
	return fmt.Sprintf("the same command with --request-id %s goes on where it stopped", s.RequestID)
}

// stopped tells how a submission goes on that was cut off.
func (s *submitBatch) stopped(r *run, err error) error {
	if r.ctx.Err() != nil {
		return fmt.Errorf("interrupted; what was uploaded is kept: %s, and batch cancel with the id that batch list shows gives it up", s.goesOn())
	}
	if status.Code(err) != codes.Unavailable {
		return err
	}
	_, told := fmt.Fprintf(r.stderr, "rootward: %s\n", s.goesOn())
	return errors.Join(err, told)
}

// named is a batch that a command is about.
type named struct {
	ID string `arg:"" name:"id" help:"Id of the batch, as submit and list show it."`
}

type batchStatus struct{ named }

// Run shows a batch.
func (s *batchStatus) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		got, err := c.Inventory.GetBatch(r.ctx, &inventoryv1.GetBatchRequest{BatchId: s.ID})
		if err != nil {
			return err
		}
		return r.shown(got.GetBatch())
	})
}

type watchBatch struct{ named }

// Help is shown with the command.
func (*watchBatch) Help() string {
	return "Exits with 4 if the batch has ended without results, and with 1 if nothing could be learnt of it."
}

// Run waits for a batch.
func (w *watchBatch) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		return r.watched(c, w.ID)
	})
}

// watched waits for a batch. One that ends without results, or whose retry fails, is an error,
// fruitless.
func (r *run) watched(c *client.Client, id string) error {
	b, err := c.Watch(r.ctx, id, r.tell())
	if err != nil && r.ctx.Err() != nil {
		return fmt.Errorf("interrupted; batch %[1]s is kept: batch watch %[1]s waits for it once more, and batch cancel %[1]s gives it up", id)
	}
	if err != nil {
		return err
	}
	switch failed := b.GetState() == inventoryv1.BatchState_BATCH_STATE_FAILED; {
	case client.HasResults(b) && failed:
		return errors.Join(r.shown(b), fruitless{fmt.Errorf("the retry of batch %s has failed, and the results are of before it: %s", id, b.GetError().GetMessage())})
	case client.HasResults(b):
		return r.shown(b)
	}
	return errors.Join(r.shown(b), fruitless{fmt.Errorf("batch %s has ended without results: %s", id, b.GetError().GetMessage())})
}

// tell shows on a terminal how a batch gets on.
func (r *run) tell() func(*inventoryv1.Batch) {
	progress := r.newProgress()
	var told []string
	var uploading bool // told, too
	return func(b *inventoryv1.Batch) {
		if b.GetDone() {
			progress.end()
			return
		}
		if line := upload(b); line != "" && !uploading && !r.quiet {
			uploading = true
			fmt.Fprintln(r.stderr, "rootward: batch "+b.GetBatchId()+": "+line)
		}
		if now := hindrances(b); !slices.Equal(now, told) && !r.quiet {
			progress.clear()
			if told = now; len(now) == 0 {
				now = []string{"no server is known to be unable to decide it any more: it goes on within seconds, and you need do nothing unless a line says so again"}
			}
			for _, line := range now {
				fmt.Fprintln(r.stderr, "rootward: batch "+b.GetBatchId()+": "+line)
			}
		}
		progress.tell(int(b.GetPasses()), b.GetTotals().GetRows())
	}
}

type listBatches struct {
	Most int `default:"100" placeholder:"N" help:"How many at most."`
}

// Run lists batches.
func (l *listBatches) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		p := page.On(r.stdout)
		q := &inventoryv1.ListBatchesRequest{}
		for left := l.Most; left > 0; {
			q.PageSize = int32(min(left, 1_000))
			answer, err := c.Inventory.ListBatches(r.ctx, q)
			if err != nil {
				return err
			}
			for _, b := range answer.GetBatches() {
				p.Text("", heading(b))
			}
			left -= len(answer.GetBatches())
			if q.PageToken = answer.GetNextPageToken(); q.PageToken == "" {
				break
			}
		}
		return p.Err()
	})
}

type cancelBatch struct{ named }

// Run stops a batch.
func (b *cancelBatch) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		answer, err := c.Inventory.CancelBatch(r.ctx, &inventoryv1.CancelBatchRequest{BatchId: b.ID})
		if err != nil {
			return err
		}
		return r.shown(answer.GetBatch())
	})
}

type retryBatch struct{ named }

// Run decides a batch once more.
func (b *retryBatch) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		answer, err := c.Inventory.RetryUndetermined(r.ctx, &inventoryv1.RetryUndeterminedRequest{BatchId: b.ID})
		if err != nil {
			return err
		}
		return r.shown(answer.GetBatch())
	})
}

type deleteBatch struct{ named }

// Run removes a batch.
func (b *deleteBatch) Run(r *run) error {
	return r.keeping(func(c *client.Client) error {
		if _, err := c.Inventory.DeleteBatch(r.ctx, &inventoryv1.DeleteBatchRequest{BatchId: b.ID}); err != nil {
			return err
		}
		_, err := fmt.Fprintf(r.stdout, "batch %s is deleted\n", b.ID)
		return err
	})
}

type batchResults struct {
	named
	File string `arg:"" help:"The inventory that was submitted, unchanged: answers are written beside its rows."`
	Site string `placeholder:"ID" help:"The site, if the batch was submitted with one."`
	resultFiles
	Units measure.System `default:"us" placeholder:"us|metric" help:"Units of the summary and the sheet: us or metric. Loads and mixes are shown in both."`
}

// Run writes the answers of a batch.
func (b *batchResults) Run(r *run) error {
	results, err := createResults(&b.resultFiles, b.File)
	if err != nil {
		return err
	}
	defer results.drop()
	return r.keeping(func(c *client.Client) error {
		progress := r.newProgress()
		result, made, err := c.Results(r.ctx, b.File, b.ID, client.Options{Site: b.Site, Progress: progress.tell}, results.begin)
		progress.end()
		if err != nil {
			return err
		}
		return b.publish(r, c, results, &fieldsheet.Heading{Inventory: b.File, Date: made.Date, Settings: made.Settings, Units: b.Units, Result: result})
	})
}

// shown prints how a batch stands.
func (r *run) shown(b *inventoryv1.Batch) error {
	p := page.On(r.stdout)
	p.Text("", heading(b))
	p.Text("    ", fmt.Sprintf("%s uploaded, chunks: %d; rows that could not be read are not among them", wording.Count(b.GetRows(), "row"), b.GetChunks()))
	if t := b.GetTotals(); t.GetRows() > 0 {
		p.Text("    ", fmt.Sprintf("%s answered in pass %d: %d prescribed, %d deferred, %d undetermined, %d rejected",
			wording.Count(t.GetRows(), "row"), b.GetPasses(), t.GetPrescribed(), t.GetDeferred(), t.GetUndetermined(), t.GetRejected()))
	}
	for _, ref := range b.GetRuleSets() {
		p.Text("    rule set    ", wording.RuleSet(ref))
	}
	for _, ref := range b.GetWaterLayers() {
		p.Text("    water       ", fmt.Sprintf("%s, sha256 %s", ref.GetName(), wording.Digest(ref.GetDigest())))
	}
	if b.GetVersion() != "" {
		p.Text("    program     ", "version "+b.GetVersion())
	}
	if client.HasResults(b) {
		results := "sha256 " + b.GetResultDigest()
		if b.GetState() != inventoryv1.BatchState_BATCH_STATE_SUCCEEDED {
			results += ", of before the retry"
		}
		p.Text("    results     ", results)
	}
	if line := upload(b); line != "" {
		p.Text("  ! ", line)
	}
	for _, line := range hindrances(b) {
		p.Text("  ! ", line)
	}
	if b.GetError() != nil {
		p.Text("  ! ", b.GetError().GetMessage())
	}
	return p.Err()
}

func heading(b *inventoryv1.Batch) string {
	state := stateWord(b)
	if b.GetWaiting() {
		state += ", waiting"
	}
	line := fmt.Sprintf("%s: %s, created %s", b.GetBatchId(), state, b.GetCreateTime().AsTime().Format("2006-01-02 15:04 MST"))
	switch n := b.GetRevision(); {
	case n == 1:
		line += ", retried once"
	case n > 1:
		line += fmt.Sprintf(", retried %d times", n)
	}
	if b.GetTitle() != "" {
		line += ": " + b.GetTitle()
	}
	return line
}

// upload says what a batch waits for that is being uploaded, and what to do; empty: it is not.
func upload(b *inventoryv1.Batch) string {
	if b.GetState() != inventoryv1.BatchState_BATCH_STATE_UPLOADING {
		return ""
	}
	return fmt.Sprintf("it waits for the client that uploads it, which has not started it; chunks that are kept: %d. If that command was cut off, give it again with the --request-id that it said at its beginning, or cancel the batch", b.GetNextChunk())
}

// hindrances says what keeps servers from deciding a batch, whether others go on, and what
// to do.
func hindrances(b *inventoryv1.Batch) []string {
	var lines []string
	switch {
	case b.GetWaiting():
		lines = append(lines, "it waits: no server that is up can decide it. It goes on by itself within seconds once one can; do for one of them what its line says, or cancel the batch")
	case len(b.GetHindrances()) > 0:
		lines = append(lines, "it goes on: another server that is up is not known to be unable, and you need do nothing")
	}
	for _, h := range b.GetHindrances() {
		lines = append(lines, fmt.Sprintf("server %s cannot decide it since %s: %s", h.GetServer(), h.GetSinceTime().AsTime().Format("2006-01-02 15:04 MST"), h.GetProblem()))
	}
	return lines
}

func stateWord(b *inventoryv1.Batch) string {
	return strings.ToUpper(strings.TrimPrefix(b.GetState().String(), "BATCH_STATE_"))
}
