package app_test

import (
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/status"

	campaignv1 "example.org/rootward/proto/gen/rootward/campaign/v1"
)

func keyOf(t *testing.T, p *program) string {
	t.Helper()
	answer, err := campaignv1.NewCampaignServiceClient(p.dial(t, nil)).GetLogKey(t.Context(), &campaignv1.GetLogKeyRequest{})
	require.NoError(t, err)
	return answer.GetKey().GetVerifier()
}

// A log has one key: another start uses it again, and does without no other.
func TestTheKeyOfTheLog(t *testing.T) {
	data := t.TempDir()
	flags := func() []string {
		return []string{"--listen=unix:" + socket(t), "--rules=" + ruleFolder, "--data=" + data}
	}
	p := start(t, nil, flags()...)
	verifier := keyOf(t, p)
	p.stop()
	assert.Zero(t, p.ended(t))
	path := filepath.Join(data, "record.key")
	private, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.NotContains(t, p.log.String(), string(private[:len(private)-1]), "the log does not show it")

	p = start(t, nil, flags()...)
	assert.Equal(t, verifier, keyOf(t, p))
	p.stop()
	assert.Zero(t, p.ended(t))

	require.NoError(t, os.Remove(path))
	code, said := fails(t, append(flags(), "--unsigned=all", "--unconfined=all")...)
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "put the log's own key there")
	_, err = os.Stat(path)
	require.ErrorIs(t, err, os.ErrNotExist, "a key of no use is not left behind")

	require.NoError(t, os.WriteFile(path, private, 0o644))
	code, said = fails(t, append(flags(), "--unsigned=all", "--unconfined=all")...)
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "chmod 600")
}

func TestAKeyWithoutALog(t *testing.T) {
	code, said := fails(t, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--record-key=x")
	assert.Equal(t, 2, code)
	assert.Contains(t, said, "give --data or --database, too")
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder)
	_, err := campaignv1.NewCampaignServiceClient(p.dial(t, nil)).GetLogKey(t.Context(), &campaignv1.GetLogKeyRequest{})
	assert.Equal(t, codes.Unimplemented, status.Code(err))
}

// What a made-up clock has dated stays apart from what is true, in both directions.
func TestARehearsalIsMarkedForEver(t *testing.T) {
	data := t.TempDir()
	flags := func(data string, more ...string) []string {
		return append([]string{"--listen=unix:" + socket(t), "--rules=" + ruleFolder, "--data=" + data}, more...)
	}
	p := start(t, nil, flags(data, "--rehearse=2031-07-01")...)
	assert.Contains(t, keyOf(t, p), "example.org/rootward/rehearsal/")
	site, err := campaignv1.NewCampaignServiceClient(p.dial(t, nil)).CreateSite(t.Context(), &campaignv1.CreateSiteRequest{
		SiteId: "a", RequestId: "0190a2c4-0000-7000-8000-000000000001", Site: &campaignv1.Site{Place: "us/velmora", TimeZone: "America/New_York"},
	})
	require.NoError(t, err)
	assert.Equal(t, "2031-07-01", site.GetSite().GetCreateTime().AsTime().Format("2006-01-02"))
	p.stop()
	assert.Zero(t, p.ended(t))
	code, said := fails(t, flags(data, "--unsigned=all", "--unconfined=all")...)
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "it is a rehearsal")

	records := t.TempDir()
	p = start(t, nil, flags(records)...)
	p.stop()
	assert.Zero(t, p.ended(t))
	code, said = fails(t, flags(records, "--rehearse=2031-07-01", "--unsigned=all", "--unconfined=all")...)
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "holds real records")

	code, said = fails(t, flags(t.TempDir(), "--rehearse=July")...)
	assert.Equal(t, 2, code)
	assert.Contains(t, said, `"July" is not a day`)
}
