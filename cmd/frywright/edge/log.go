package edge

import (
	"context"
	"log"
	"log/slog"
	"regexp"
	"strings"
)

// errorLog gives the log for what the standard library's server complains of, without the addresses of those who called.
func errorLog(to *slog.Logger) *log.Logger { return log.New(complaints{to}, "", 0) }

type complaints struct{ to *slog.Logger }

// caller is the address of who called, as the standard library writes it.
var caller = regexp.MustCompile(`(\[[0-9A-Fa-f:.]+(%\w+)?\]|\d+\.\d+\.\d+\.\d+):\d+`)

// Write implements io.Writer. A handshake that fails is the caller's matter: the world is full of those who only knock.
func (c complaints) Write(text []byte) (int, error) {
	line := strings.TrimSpace(caller.ReplaceAllString(string(text), "somebody"))
	level := slog.LevelWarn
	if strings.Contains(line, "TLS handshake error") {
		level = slog.LevelDebug
	}
	c.to.Log(context.Background(), level, "connection", "text", line)
	return len(text), nil
}
