package app_test

import (
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"

	waterv1 "example.org/rootward/proto/gen/rootward/water/v1"
)

// aWell is an invented layer.
const aWell = `{"type":"FeatureCollection","features":[{"type":"Feature",
	"properties":{"water_class":"well","origin":"water_edge"},"geometry":{"type":"Point","coordinates":[-38,43]}}]}`

func layersOf(t *testing.T, conn *grpc.ClientConn) []string {
	t.Helper()
	r, err := waterv1.NewWaterServiceClient(conn).ListLayers(t.Context(), &waterv1.ListLayersRequest{})
	require.NoError(t, err)
	var names []string
	for _, l := range r.Layers {
		names = append(names, l.Ref.Name)
	}
	return names
}

// A hangup has the folder read anew; what cannot be read leaves the layers that were
// good.
func TestAHangupLoadsTheWaterAnew(t *testing.T) {
	dir := t.TempDir()
	write := func(name, text string) {
		require.NoError(t, os.WriteFile(filepath.Join(dir, name), []byte(text), 0o600))
	}
	write("wells.geojson", aWell)
	p := start(t, nil, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--water="+dir)
	conn := p.dial(t, nil)
	require.Equal(t, []string{"wells"}, layersOf(t, conn))
	require.Contains(t, p.log.String(), `"layers":1,"features":1,"edges":1`)

	write("more.geojson", "{")
	require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGHUP))
	require.Eventually(t, func() bool { return strings.Contains(p.log.String(), "the water layers were not loaded anew") }, time.Minute, 10*time.Millisecond)
	assert.Contains(t, p.log.String(), "more.geojson")
	assert.Equal(t, []string{"wells"}, layersOf(t, conn))

	write("more.geojson", aWell)
	require.NoError(t, syscall.Kill(os.Getpid(), syscall.SIGHUP))
	require.Eventually(t, func() bool { return len(layersOf(t, conn)) == 2 }, time.Minute, 10*time.Millisecond)
	p.stop()
	assert.Zero(t, p.ended(t))
}

func TestAFolderOfWaterThatCannotBeReadEndsTheServer(t *testing.T) {
	missing := filepath.Join(t.TempDir(), "none")
	code, said := fails(t, "--listen=unix:"+socket(t), "--rules="+ruleFolder, "--water="+missing)
	assert.Equal(t, 1, code)
	assert.Contains(t, said, "--water "+missing)
}
