package ruleplugin

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

// ServerName is the name that both certificates of a connection are for.
const ServerName = "localhost"

// Certificate makes a certificate for one start of a plugin, whose key stays in this
// process. It is on the curve P-256: on P-521, which go-plugin v1.8.0 takes, the key and
// its use cost some 5 ms on either side (by a profile).
func Certificate() (tls.Certificate, error) {
	key, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("no key for a connection: %w", err)
	}
	now := time.Now()
	template := &x509.Certificate{
		Subject:     pkix.Name{CommonName: ServerName},
		DNSNames:    []string{ServerName},
		NotBefore:   now.Add(-time.Minute),
		NotAfter:    now.AddDate(30, 0, 0), // it lives as long as the process does
		KeyUsage:    x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign,
		ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageClientAuth, x509.ExtKeyUsageServerAuth},
		IsCA:        true, BasicConstraintsValid: true,
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, key.Public(), key)
	if err != nil {
		return tls.Certificate{}, fmt.Errorf("no certificate for a connection: %w", err)
	}
	return tls.Certificate{Certificate: [][]byte{der}, PrivateKey: key}, nil
}

// PEM is a certificate as ClientCertificate has it.
func PEM(c tls.Certificate) []byte {
	return pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: c.Certificate[0]})
}
