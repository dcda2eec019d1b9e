package edge

import (
	"bytes"
	"log/slog"
	"testing"

	"github.com/stretchr/testify/assert"
)

// TestComplaintsAreOfNobody checks lines as net/http writes them.
func TestComplaintsAreOfNobody(t *testing.T) {
	for line, want := range map[string]string{
		"http: TLS handshake error from 192.0.2.7:4711: EOF":              "level=DEBUG msg=connection text=\"http: TLS handshake error from somebody: EOF\"\n",
		"http: TLS handshake error from [2001:db8::7]:4711: EOF":          "level=DEBUG msg=connection text=\"http: TLS handshake error from somebody: EOF\"\n",
		"http2: server: error reading preface from client [fe80::1%e0]:9": "level=WARN msg=connection text=\"http2: server: error reading preface from client somebody\"\n",
		"http: Accept error: too many open files; retrying in 5ms":        "level=WARN msg=connection text=\"http: Accept error: too many open files; retrying in 5ms\"\n",
	} {
		var said bytes.Buffer
		handler := slog.NewTextHandler(&said, &slog.HandlerOptions{Level: slog.LevelDebug, ReplaceAttr: func(_ []string, a slog.Attr) slog.Attr {
			if a.Key == slog.TimeKey {
				return slog.Attr{}
			}
			return a
		}})
		errorLog(slog.New(handler)).Print(line)
		assert.Equal(t, want, said.String())
	}
}
