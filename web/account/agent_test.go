package account

import (
	"strings"
	"testing"
	"unicode/utf8"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// User-Agents as browsers send them (from memory).
func TestDevicesInPlainWords(t *testing.T) {
	for agent, want := range map[string]string{
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/141.0.0.0 Mobile Safari/537.36":                            "Chrome on Android",
		"Mozilla/5.0 (Linux; Android 10; K) AppleWebKit/537.36 (KHTML, like Gecko) SamsungBrowser/28.0 Chrome/130.0.0.0 Mobile Safari/537.36":        "Samsung Internet on Android",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Mobile/15E148 Safari/604.1":    "Safari on iPhone",
		"Mozilla/5.0 (iPhone; CPU iPhone OS 18_5 like Mac OS X) AppleWebKit/605.1.15 (KHTML, like Gecko) CriOS/141.0.0.0 Mobile/15E148 Safari/604.1": "Chrome on iPhone",
		"Mozilla/5.0 (Macintosh; Intel Mac OS X 10_15_7) AppleWebKit/605.1.15 (KHTML, like Gecko) Version/18.5 Safari/605.1.15":                      "Safari on Mac",
		"Mozilla/5.0 (Windows NT 10.0; Win64; x64) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/141.0.0.0 Safari/537.36 Edg/141.0.0.0":              "Edge on Windows",
		"Mozilla/5.0 (X11; Linux x86_64; rv:140.0) Gecko/20100101 Firefox/140.0":                                                                     "Firefox on Linux",
		"Mozilla/5.0 (X11; CrOS x86_64 14541.0.0) AppleWebKit/537.36 (KHTML, like Gecko) Chrome/141.0.0.0 Safari/537.36":                             "Chrome on ChromeOS",
		"curl/8.14.1":               "Another program",
		"":                          "Another program",
		"<script>alert(1)</script>": "Another program",
		"Android":                   "Android",
	} {
		assert.Equal(t, want, agentWords(agent), agent)
	}
}

func FuzzAgentWords(f *testing.F) {
	f.Add("Mozilla/5.0 (Linux; Android 10; K) Chrome/141.0.0.0")
	f.Add(strings.Repeat("Android", 1000))
	f.Fuzz(func(t *testing.T, agent string) {
		words := agentWords(agent)
		require.NotEmpty(t, words)
		require.LessOrEqual(t, len(words), 40, "nothing of what was sent is kept")
		require.True(t, utf8.ValidString(words))
	})
}
