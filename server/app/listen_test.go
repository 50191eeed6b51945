package app_test

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"encoding/pem"
	"math/big"
	"net"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"google.golang.org/grpc/credentials"
	healthv1 "google.golang.org/grpc/health/grpc_health_v1"
)

func TestTheSocketIsPrivate(t *testing.T) {
	path := socket(t)
	p := start(t, nil, "--listen=unix:"+path, "--rules="+ruleFolder)
	assert.Equal(t, "unix:"+path, p.address)
	of, err := os.Stat(path)
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), of.Mode().Perm())
	of, err = os.Stat(filepath.Dir(path))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o700), of.Mode().Perm())
}

func TestAStaleSocketIsReplaced(t *testing.T) {
	path := socket(t)
	require.NoError(t, os.Mkdir(filepath.Dir(path), 0o700))
	l, err := net.ListenUnix("unix", &net.UnixAddr{Name: path})
	require.NoError(t, err)
	l.SetUnlinkOnClose(false)
	require.NoError(t, l.Close())
	p := start(t, nil, "--listen=unix:"+path, "--rules="+ruleFolder)
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, p.dial(t, nil), ""))
}

func TestASocketInUseStays(t *testing.T) {
	path := socket(t)
	p := start(t, nil, "--listen=unix:"+path, "--rules="+ruleFolder)
	code, says := fails(t, "--listen=unix:"+path, "--rules="+ruleFolder)
	assert.Equal(t, 1, code)
	assert.Contains(t, says, "another server answers")
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, p.dial(t, nil), ""))
}

func TestWhatIsNoSocketStays(t *testing.T) {
	path := socket(t)
	require.NoError(t, os.Mkdir(filepath.Dir(path), 0o700))
	require.NoError(t, os.WriteFile(path, []byte("a letter"), 0o600))
	code, says := fails(t, "--listen=unix:"+path, "--rules="+ruleFolder)
	assert.Equal(t, 1, code)
	assert.Contains(t, says, "no socket")
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "a letter", string(text))
}

func TestSocketsElsewhereAreRefused(t *testing.T) {
	open := filepath.Dir(filepath.Dir(socket(t)))
	require.NoError(t, os.Chmod(open, 0o755))
	code, says := fails(t, "--listen=unix:"+filepath.Join(open, "x"), "--rules="+ruleFolder)
	assert.Equal(t, 1, code)
	assert.Contains(t, says, "chmod 700")
	code, says = fails(t, "--listen=unix:/tmp/"+strings.Repeat("x", 120), "--rules="+ruleFolder)
	assert.Equal(t, 1, code)
	assert.Contains(t, says, "107")
}

func TestServesWithTLS(t *testing.T) {
	certFile, keyFile, pool := certificate(t)
	p := start(t, nil, "--listen=127.0.0.1:0", "--rules="+ruleFolder, "--tls-cert="+certFile, "--tls-key="+keyFile)
	conn := p.dial(t, credentials.NewTLS(&tls.Config{RootCAs: pool}))
	assert.Equal(t, healthv1.HealthCheckResponse_SERVING, healthOf(t, conn, ""))
}

// certificate makes a certificate for this machine's own address.
func certificate(t *testing.T) (certFile, keyFile string, pool *x509.CertPool) {
	t.Helper()
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: big.NewInt(1), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
		IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &key.PublicKey, key)
	require.NoError(t, err)
	private, err := x509.MarshalPKCS8PrivateKey(key)
	require.NoError(t, err)
	certFile, keyFile = filepath.Join(t.TempDir(), "cert.pem"), filepath.Join(t.TempDir(), "key.pem")
	text := pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der})
	require.NoError(t, os.WriteFile(certFile, text, 0o600))
	require.NoError(t, os.WriteFile(keyFile, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: private}), 0o600))
	pool = x509.NewCertPool()
	require.True(t, pool.AppendCertsFromPEM(text))
	return certFile, keyFile, pool
}
