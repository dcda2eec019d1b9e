package main

import (
	"context"
	"crypto/ecdsa"
	"crypto/elliptic"
	"crypto/rand"
	"crypto/tls"
	"crypto/x509"
	"crypto/x509/pkix"
	"encoding/binary"
	"encoding/json"
	"encoding/pem"
	"io"
	"math/big"
	"net"
	"net/http"
	"os"
	"os/exec"
	"path/filepath"
	"strconv"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/dns/dnsmessage"
)

// served runs the serve command until the test ends.
func served(t *testing.T, e *environment, c serveCommand) {
	t.Helper()
	ctx, stop := context.WithCancel(context.Background())
	e.ctx = ctx
	done := make(chan error, 1)
	go func() { done <- c.Run(e) }()
	t.Cleanup(func() {
		stop()
		require.NoError(t, <-done)
	})
}

// freePort gives a port of the loopback address that nobody listens on.
func freePort(t *testing.T) int {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // it is closed at once
	require.NoError(t, err)
	defer l.Close() //nolint:errcheck // it was only asked for its number
	return l.Addr().(*net.TCPAddr).Port
}

// local gives the loopback address with a port.
func local(port int) string { return net.JoinHostPort("127.0.0.1", strconv.Itoa(port)) }

// selfSigned writes a certificate for names, and its key, and gives the files' names.
func selfSigned(t *testing.T, folder string, names ...string) (cert, key string) {
	t.Helper()
	private, err := ecdsa.GenerateKey(elliptic.P256(), rand.Reader)
	require.NoError(t, err)
	serial, err := rand.Int(rand.Reader, big.NewInt(1<<62))
	require.NoError(t, err)
	template := &x509.Certificate{
		SerialNumber: serial, Subject: pkix.Name{CommonName: names[0]}, DNSNames: names, IPAddresses: []net.IP{net.IPv4(127, 0, 0, 1)},
		NotBefore: time.Now().Add(-time.Hour), NotAfter: time.Now().Add(time.Hour), IsCA: true, BasicConstraintsValid: true,
		KeyUsage: x509.KeyUsageDigitalSignature | x509.KeyUsageCertSign, ExtKeyUsage: []x509.ExtKeyUsage{x509.ExtKeyUsageServerAuth},
	}
	der, err := x509.CreateCertificate(rand.Reader, template, template, &private.PublicKey, private)
	require.NoError(t, err)
	keyDER, err := x509.MarshalPKCS8PrivateKey(private)
	require.NoError(t, err)
	cert, key = filepath.Join(folder, "cert.pem"), filepath.Join(folder, "key.pem")
	require.NoError(t, os.WriteFile(cert, pem.EncodeToMemory(&pem.Block{Type: "CERTIFICATE", Bytes: der}), 0o600))
	require.NoError(t, os.WriteFile(key, pem.EncodeToMemory(&pem.Block{Type: "PRIVATE KEY", Bytes: keyDER}), 0o600))
	return cert, key
}

// caller gives a client that trusts the certificates of a PEM text, and finds every host at one address.
func caller(t *testing.T, authority []byte, at string) *http.Client {
	t.Helper()
	pool := x509.NewCertPool()
	require.True(t, pool.AppendCertsFromPEM(authority))
	transport := &http.Transport{
		TLSClientConfig: &tls.Config{RootCAs: pool, MinVersion: tls.VersionTLS12}, ForceAttemptHTTP2: true, DisableKeepAlives: true,
		DialContext: func(ctx context.Context, network, _ string) (net.Conn, error) {
			return new(net.Dialer).DialContext(ctx, network, at)
		},
	}
	t.Cleanup(transport.CloseIdleConnections)
	return &http.Client{
		Transport: transport, Timeout: 20 * time.Second,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse },
	}
}

// heard is what a server said.
type heard struct {
	status, proto int
	header        http.Header
	names         []string // of its certificate
	text          string
}

// fetch asks until there is an answer.
func fetch(t *testing.T, c *http.Client, url string) heard {
	t.Helper()
	var err error
	for until := time.Now().Add(20 * time.Second); time.Now().Before(until); time.Sleep(20 * time.Millisecond) {
		var resp *http.Response
		if resp, err = c.Get(url); err != nil { //nolint:noctx // the client has a time limit
			continue
		}
		text, readErr := io.ReadAll(resp.Body)
		require.NoError(t, readErr)
		require.NoError(t, resp.Body.Close())
		a := heard{status: resp.StatusCode, proto: resp.ProtoMajor, header: resp.Header, text: string(text)}
		if resp.TLS != nil {
			a.names = resp.TLS.PeerCertificates[0].DNSNames
		}
		return a
	}
	require.NoError(t, err, url)
	return heard{}
}

// nameServer answers every question for an address with the loopback's, so that an authority finds us under any name. It
// speaks TCP (RFC 1035, 4.2.2).
func nameServer(t *testing.T) string {
	t.Helper()
	l, err := net.Listen("tcp", "127.0.0.1:0") //nolint:noctx // closed with the test
	require.NoError(t, err)
	t.Cleanup(func() { _ = l.Close() })
	go func() {
		for {
			conn, err := l.Accept()
			if err != nil {
				return
			}
			go answerNames(conn)
		}
	}()
	return l.Addr().String()
}

func answerNames(conn net.Conn) {
	defer conn.Close() //nolint:errcheck // the asking side has its answer or not
	for {
		var size uint16
		if binary.Read(conn, binary.BigEndian, &size) != nil {
			return
		}
		question := make([]byte, size)
		if _, err := io.ReadFull(conn, question); err != nil {
			return
		}
		answer := answerName(question)
		if _, err := conn.Write(append(binary.BigEndian.AppendUint16(nil, uint16(len(answer))), answer...)); err != nil { //nolint:gosec // an answer is short
			return
		}
	}
}

func answerName(question []byte) []byte {
	var m dnsmessage.Message
	if m.Unpack(question) != nil || len(m.Questions) != 1 {
		return nil
	}
	m.Response, m.Authoritative, m.Additionals = true, true, nil
	if q := m.Questions[0]; q.Type == dnsmessage.TypeA {
		m.Answers = []dnsmessage.Resource{{
			Header: dnsmessage.ResourceHeader{Name: q.Name, Type: q.Type, Class: q.Class, TTL: 1},
			Body:   &dnsmessage.AResource{A: [4]byte{127, 0, 0, 1}},
		}}
	}
	answer, err := m.Pack()
	if err != nil {
		return nil
	}
	return answer
}

// authority starts an ACME server (RFC 8555) made for tests, which asks back at the given ports. It gives its directory,
// the file that its own server is checked against, and the root of the certificates that it issues.
func authority(t *testing.T, httpPort, tlsPort int) (directory, ca string, root func() []byte) {
	t.Helper()
	program := filepath.Join("..", "..", "bin", "pebble")
	require.FileExists(t, program, "make bin/pebble builds it")
	folder, api, management := t.TempDir(), freePort(t), freePort(t)
	cert, key := selfSigned(t, folder, "localhost")
	config, err := json.Marshal(map[string]any{"pebble": map[string]any{
		"listenAddress": local(api), "managementListenAddress": local(management), "certificate": cert, "privateKey": key,
		"httpPort": httpPort, "tlsPort": tlsPort, "keyAlgorithm": "ecdsa", "retryAfter": map[string]int{"authz": 1, "order": 1},
	}})
	require.NoError(t, err)
	file := filepath.Join(folder, "config.json")
	require.NoError(t, os.WriteFile(file, config, 0o600))
	cmd := exec.Command(program, "-config", file, "-dnsserver", nameServer(t)) //nolint:noctx // ended with the test
	cmd.Env = append(os.Environ(), "PEBBLE_VA_NOSLEEP=1", "PEBBLE_WFE_NONCEREJECT=0")
	require.NoError(t, cmd.Start())
	t.Cleanup(func() { _ = cmd.Process.Kill(); _ = cmd.Wait() })
	own, err := os.ReadFile(cert)
	require.NoError(t, err)
	client := caller(t, own, local(management))
	return "https://" + local(api) + "/dir", cert, func() []byte {
		return []byte(fetch(t, client, "https://"+local(management)+"/roots/0").text)
	}
}

// TestACertificateIsObtained gets one from an authority, in both ways of showing whose the name is.
func TestACertificateIsObtained(t *testing.T) {
	for name, blind := range map[string]bool{"tls-alpn-01": false, "http-01": true} {
		t.Run(name, func(t *testing.T) {
			tlsPort, httpPort := freePort(t), freePort(t)
			asked := tlsPort
			if blind {
				asked = freePort(t) // nobody answers there, so that the other way is taken
			}
			directory, ca, root := authority(t, httpPort, asked)
			trusted := root()
			e, _ := shell(t)
			e.out = io.Discard
			served(t, e, serveCommand{
				Listen: local(tlsPort), ListenHTTP: local(httpPort), Domain: []string{"fry.example"}, Directory: directory, Authority: ca,
				Email: "operator@frywright.example",
			})
			client := caller(t, trusted, local(tlsPort))
			got := fetch(t, client, "https://fry.example/signin")
			assert.Equal(t, http.StatusOK, got.status)
			assert.Equal(t, 2, got.proto)
			assert.Equal(t, "max-age=31536000", got.header.Get("Strict-Transport-Security"))
			assert.Equal(t, []string{"fry.example"}, got.names)
			info, err := os.Stat(filepath.Join(e.data, certificates))
			require.NoError(t, err)
			assert.Equal(t, os.FileMode(0o700), info.Mode().Perm(), "it holds keys")

			plain := caller(t, trusted, local(httpPort))
			got = fetch(t, plain, "http://fry.example/desk?worst=food")
			assert.Equal(t, http.StatusMovedPermanently, got.status)
			assert.Equal(t, "https://fry.example:"+strconv.Itoa(tlsPort)+"/desk?worst=food", got.header.Get("Location"))
			assert.Empty(t, got.header.Get("Strict-Transport-Security"))
			got = fetch(t, plain, "http://elsewhere.example/")
			assert.Equal(t, http.StatusMisdirectedRequest, got.status)
		})
	}
}

// TestACertificateOfFilesIsReadAnew changes the files under a running server.
func TestACertificateOfFilesIsReadAnew(t *testing.T) {
	folder, port := t.TempDir(), freePort(t)
	cert, key := selfSigned(t, folder, "fry.example")
	first, err := os.ReadFile(cert)
	require.NoError(t, err)
	e, _ := shell(t)
	served(t, e, serveCommand{Listen: local(port), ListenHTTP: "off", Cert: cert, Key: key})
	got := fetch(t, caller(t, first, local(port)), "https://fry.example/healthz")
	assert.Equal(t, http.StatusOK, got.status)

	require.NoError(t, os.WriteFile(cert, []byte("half a file"), 0o600))
	got = fetch(t, caller(t, first, local(port)), "https://fry.example/healthz")
	assert.Equal(t, http.StatusOK, got.status, "until the new one is whole the old one serves")

	selfSigned(t, folder, "fry.example", "other.example")
	second, err := os.ReadFile(cert)
	require.NoError(t, err)
	got = fetch(t, caller(t, second, local(port)), "https://other.example/healthz")
	assert.Equal(t, http.StatusOK, got.status)

	old := &tls.Config{MinVersion: tls.VersionTLS10, MaxVersion: tls.VersionTLS11, InsecureSkipVerify: true} //nolint:gosec // what is too old must be refused
	_, err = tls.Dial("tcp", local(port), old)                                                               //nolint:noctx // a test of a server beside it
	require.ErrorContains(t, err, "protocol version")
}

func TestFlagsThatDoNotGoTogether(t *testing.T) {
	for says, c := range map[string]serveCommand{
		"given together":         {Cert: "c.pem"},
		"give one of them":       {Domain: []string{"fry.example"}, Cert: "c.pem", Key: "k.pem"},
		"behind a proxy":         {Domain: []string{"fry.example"}, TrustProxy: []string{"10.0.0.1"}},
		"need --domain":          {Email: "operator@frywright.example"},
		"--listen-http needs":    {ListenHTTP: ":80"},
		"begins with https://":   {Domain: []string{"fry.example"}, Base: "http://fry.example"},
		"names such as":          {Domain: []string{"https://fry.example"}},
		"neither an address nor": {TrustProxy: []string{"proxy.example"}},
	} {
		require.ErrorContains(t, c.Validate(), says)
		e, _ := shell(t)
		require.ErrorContains(t, c.Run(e), says)
		_, err := os.Stat(e.data)
		require.ErrorIs(t, err, os.ErrNotExist, "nothing is made")
	}
	assert.NoError(t, serveCommand{Cert: "c", Key: "k", TrustProxy: []string{"10.0.0.0/8", "::1"}}.Validate())
}
