package rulehost

import (
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/pem"
	"fmt"
	"time"
)

// clientCertificate is the variable by which a plugin learns the one certificate that it
// accepts.
const clientCertificate = "PLUGIN_CLIENT_CERT"

// certified is one start of a plugin with mutual TLS: a certificate for this start alone,
// whose key stays in this process. It is what go-plugin's AutoMTLS is, on the curve P-256:
// on P-521, which go-plugin v1.8.0 takes, the key and its use cost some 5 ms a start (by a profile).
type certified struct {
	tls *tls.Config // trusts nobody until go-plugin adds what the plugin shows
	pem []byte
}

func certify() (*certified, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return nil, fmt.Errorf("no key for its connection: %w", err)
	}
	now := time.Now()
	template := &x509.Certificate{
		Subject:     pkix.Name{CommonName: "localhost"},
		DNSNames:    []string{"localhost"},
		NotBefore:   now.Add(-time.Minute),
		NotAfter:    now.AddDate(30, 0, 0), // it lives as long as the process does
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth},
		IsCA:        true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return nil, fmt.Errorf("no certificate for its connection: %w", err)
	}
	return &certified{
		tls: &tls.Config{
			Certificates: []tls.Certificate{{Certificate: [][]byte{der}, PrivateKey: key}},
			RootCAs:      x509.NewCertPool(),
			ServerName:   "localhost",
			MinVersion:   tls.VersionTLS12,
		},
		pem: pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}),
	}, nil
}
