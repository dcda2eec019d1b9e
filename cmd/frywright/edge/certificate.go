package edge

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"errors"
	"fmt"
	"log/slog"
	"net"
	"net/http"
	"os"
	"slices"
	"strings"
	"sync"
	"time"

	"golang.org/x/crypto/acme"
	"golang.org/x/crypto/acme/autocert"
)

// Certificates are where the certificates come from.
type Certificates interface {
	// TLS gives the configuration of a server.
	TLS() *tls.Config
	// Owns says whether a host name, without a port, is one of ours.
	Owns(host string) bool
	// Challenge answers what an authority asks over plain HTTP, and hands everything else on.
	Challenge(next http.Handler) http.Handler
}

// ACME obtains certificates from an authority that speaks ACME (RFC 8555), and renews them.
type ACME struct {
	Domains []string
	manager *autocert.Manager
}

// ACMEConfig says which authority to ask.
type ACMEConfig struct {
	Domains   []string
	Cache     string // folder where certificates and the account's key are kept
	Email     string // for the authority's notices; may be empty
	Directory string // the authority's address; empty for the usual one
	Authority []byte // certificates in PEM that the authority's own server is checked against; nil for the system's
}

// authorityTime is how long the authority may take to answer once.
const authorityTime = time.Minute

// NewACME makes the source of the certificates.
func NewACME(c ACMEConfig) (*ACME, error) {
	client := &acme.Client{DirectoryURL: c.Directory, HTTPClient: &http.Client{Timeout: authorityTime}}
	if c.Authority != nil {
		pool := x509.NewCertPool()
		if !pool.AppendCertsFromPEM(c.Authority) {
			return nil, errors.New("the file of --acme-ca holds no certificate")
		}
		transport := http.DefaultTransport.(*http.Transport).Clone()
		transport.TLSClientConfig = &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}
		client.HTTPClient.Transport = transport
	}
	a := &ACME{Domains: c.Domains}
	a.manager = &autocert.Manager{
		Prompt: autocert.AcceptTOS, Cache: autocert.DirCache(c.Cache), Email: c.Email, Client: client,
		HostPolicy: func(_ context.Context, host string) error {
			if !a.Owns(withoutPort(host)) {
				return errors.New("this name is not served here")
			}
			return nil
		},
	}
	return a, nil
}

// TLS implements Certificates.
func (a *ACME) TLS() *tls.Config {
	c := a.manager.TLSConfig()
	c.MinVersion = tls.VersionTLS12
	return c
}

// Owns implements Certificates.
func (a *ACME) Owns(host string) bool { return slices.Contains(a.Domains, strings.ToLower(host)) }

// Challenge implements Certificates.
func (a *ACME) Challenge(next http.Handler) http.Handler { return a.manager.HTTPHandler(next) }

// Prepare obtains the certificates that are missing, so that the first visitor need not wait and what is wrong is in the
// log at once. The server must be running: the authority asks it back.
func (a *ACME) Prepare(log *slog.Logger) {
	for _, name := range a.Domains {
		hello := &tls.ClientHelloInfo{ServerName: name, CipherSuites: []uint16{tls.TLS_ECDHE_ECDSA_WITH_AES_128_GCM_SHA256}}
		if _, err := a.manager.GetCertificate(hello); err != nil {
			log.Error("no certificate could be obtained", "domain", name, "error", err.Error())
		} else {
			log.Info("the certificate is there", "domain", name)
		}
	}
}

// Files serves a certificate from two files, and takes them anew when they change.
type Files struct {
	cert, key string
	log       *slog.Logger

	mu      sync.Mutex
	current *tls.Certificate
	of      stamp // of the files that current was read from
	failed  stamp // of files that could not be used: said once
}

// stamp tells one state of the two files from another.
type stamp struct {
	cert, key         time.Time
	certSize, keySize int64
}

// NewFiles reads the certificate.
func NewFiles(cert, key string, log *slog.Logger) (*Files, error) {
	f := &Files{cert: cert, key: key, log: log}
	s, err := f.stamp()
	if err != nil {
		return nil, err
	}
	if err := f.load(s); err != nil {
		return nil, err
	}
	return f, nil
}

func (f *Files) stamp() (stamp, error) {
	cert, err := os.Stat(f.cert)
	if err != nil {
		return stamp{}, err
	}
	key, err := os.Stat(f.key)
	if err != nil {
		return stamp{}, err
	}
	return stamp{cert.ModTime(), key.ModTime(), cert.Size(), key.Size()}, nil
}

func (f *Files) load(s stamp) error {
	made, err := tls.LoadX509KeyPair(f.cert, f.key)
	if err != nil {
		return fmt.Errorf("read the certificate: %w", err)
	}
	f.current, f.of = &made, s
	return nil
}

// get gives the certificate, read anew where the files have changed. While they do not fit together, because only one of
// them is there yet, the old one stays.
func (f *Files) get() *tls.Certificate {
	f.mu.Lock()
	defer f.mu.Unlock()
	s, err := f.stamp()
	if err == nil && s == f.of {
		return f.current
	}
	if err == nil {
		err = f.load(s)
	}
	switch {
	case err == nil:
		f.log.Info("the certificate was read anew")
	case s != f.failed:
		f.log.Warn("the new certificate cannot be used yet", "error", err.Error())
	}
	f.failed = s
	return f.current
}

// TLS implements Certificates.
func (f *Files) TLS() *tls.Config {
	return &tls.Config{
		MinVersion:     tls.VersionTLS12,
		GetCertificate: func(*tls.ClientHelloInfo) (*tls.Certificate, error) { return f.get(), nil },
	}
}

// Owns implements Certificates: the names, wildcards among them, are those of the certificate.
func (f *Files) Owns(host string) bool { return f.get().Leaf.VerifyHostname(host) == nil }

// Names gives the names of the certificate.
func (f *Files) Names() []string { return f.get().Leaf.DNSNames }

// Challenge implements Certificates.
func (f *Files) Challenge(next http.Handler) http.Handler { return next }

func withoutPort(host string) string {
	if name, _, err := net.SplitHostPort(host); err == nil {
		return name
	}
	return strings.Trim(host, "[]")
}
