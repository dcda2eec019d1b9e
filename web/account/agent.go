package account

import "strings"

// agentMost bounds how much of a User-Agent is read.
const agentMost = 400

// browsers and systems are what a User-Agent names. Many name the ones that they descend from too, so the first that is
// found counts.
var (
	browsers = [][2]string{
		{"Edg", "Edge"}, {"OPR/", "Opera"}, {"SamsungBrowser/", "Samsung Internet"}, {"Firefox/", "Firefox"}, {"FxiOS/", "Firefox"},
		{"CriOS/", "Chrome"}, {"Chromium/", "Chromium"}, {"Chrome/", "Chrome"}, {"Safari/", "Safari"},
	}
	systems = [][2]string{
		{"Android", "Android"}, {"iPhone", "iPhone"}, {"iPad", "iPad"}, {"CrOS", "ChromeOS"}, {"Windows", "Windows"}, {"Macintosh", "Mac"}, {"Linux", "Linux"},
	}
)

// agentWords gives the device of a User-Agent in plain words: "Chrome on Android". It is told by the browser itself, so
// it helps to recognise a place and proves nothing.
func agentWords(agent string) string {
	agent = agent[:min(len(agent), agentMost)]
	browser, system := firstNamed(browsers, agent), firstNamed(systems, agent)
	switch {
	case browser != "" && system != "":
		return browser + " on " + system
	case browser != "" || system != "":
		return browser + system
	default:
		return "Another program"
	}
}

func firstNamed(list [][2]string, agent string) string {
	for _, one := range list {
		if strings.Contains(agent, one[0]) {
			return one[1]
		}
	}
	return ""
}
