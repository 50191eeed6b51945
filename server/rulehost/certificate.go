package rulehost

import (
	"crypto/tls"
	"crypto/x509"

	"example.org/rootward/rules/ruleplugin"
)

// certified is one start of a plugin with mutual TLS, by a certificate for this start
// alone. It is what go-plugin's AutoMTLS is, but for the curve.
type certified struct {
	tls *tls.Config // trusts nobody until go-plugin adds what the plugin shows
	pem []byte
}

func certify() (*certified, error) {
	own, err := ruleplugin.Certificate()
	if err != nil {
		return nil, err
	}
	return &certified{
		tls: &tls.Config{
			Certificates: []tls.Certificate{own},
			RootCAs:      x509.NewCertPool(),
			ServerName:   ruleplugin.ServerName,
			MinVersion:   tls.VersionTLS12,
		},
		pem: ruleplugin.PEM(own),
	}, nil
}
