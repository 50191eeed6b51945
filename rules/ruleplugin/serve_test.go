package ruleplugin_test

import (
	"crypto/tls"
	"crypto/x509"
	"encoding/base64"
	"net"
	"os"
	"path/filepath"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc"
	"google.golang.org/grpc/codes"
	"google.golang.org/grpc/credentials"
	"google.golang.org/grpc/credentials/insecure"
	"google.golang.org/grpc/health"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
	"google.golang.org/grpc/status"

	"example.org/rootward/rules/ruleplugin"
)

func TestAPluginSpeaksWithItsHostAlone(t *testing.T) {
	host, other := certificate(t), certificate(t)
	options, shown, err := ruleplugin.Mutual(string(ruleplugin.PEM(host)))
	require.NoError(t, err)
	server := grpc.NewServer(options...)
	healthv1.RegisterHealthServer(server, health.NewServer())
	path := filepath.Join(t.TempDir(), "s")
	listener, err := net.Listen("unix", path)
	require.NoError(t, err)
	go server.Serve(listener)
	t.Cleanup(server.Stop)
	der, err := base64.RawStdEncoding.DecodeString(shown)
	require.NoError(t, err)
	plugin, err := x509.ParseCertificate(der)
	require.NoError(t, err)
	trusted := x509.NewCertPool()
	trusted.AddCert(plugin)
	asking := func(own ...tls.Certificate) credentials.TransportCredentials {
		return credentials.NewTLS(&tls.Config{Certificates: own, RootCAs: trusted, ServerName: ruleplugin.ServerName, MinVersion: tls.VersionTLS12})
	}
	for name, c := range map[string]struct {
		credentials credentials.TransportCredentials
		want        codes.Code
	}{
		"its host":              {asking(host), codes.OK},
		"another with a key":    {asking(other), codes.Unavailable},
		"another without a key": {asking(), codes.Unavailable},
		"another without TLS":   {insecure.NewCredentials(), codes.Unavailable},
	} {
		t.Run(name, func(t *testing.T) {
			conn, err := grpc.NewClient("unix:"+path, grpc.WithTransportCredentials(c.credentials))
			require.NoError(t, err)
			defer conn.Close()
			_, err = healthv1.NewHealthClient(conn).Check(t.Context(), &healthv1.HealthCheckRequest{})
			assert.Equal(t, c.want, status.Code(err), "%v", err)
		})
	}
}

func TestNobodyIsServedWithoutACertificate(t *testing.T) {
	for _, given := range []string{"", "not in PEM"} {
		t.Setenv(ruleplugin.ClientCertificate, given)
		t.Setenv(ruleplugin.SocketFolder, t.TempDir())
		assert.ErrorContains(t, ruleplugin.Serve(nil), ruleplugin.ClientCertificate)
		entries, err := os.ReadDir(os.Getenv(ruleplugin.SocketFolder))
		require.NoError(t, err)
		assert.Empty(t, entries, "no socket")
	}
}

// A socket stays where it is when its plugin is killed.
func TestAFolderHasSocketsOfSeveralPlugins(t *testing.T) {
	folder := t.TempDir()
	for range 3 {
		l, tidy, err := ruleplugin.Listen(folder)
		require.NoError(t, err)
		t.Cleanup(func() { tidy(); l.Close() })
	}
	entries, err := os.ReadDir(folder)
	require.NoError(t, err)
	assert.Len(t, entries, 3)
}

func certificate(t *testing.T) tls.Certificate {
	t.Helper()
	c, err := ruleplugin.Certificate()
	require.NoError(t, err)
	return c
}
