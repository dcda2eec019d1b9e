package person_test

import (
	"strings"
	"testing"

	"frywright/domain/access"
	"frywright/domain/fault"
	"frywright/domain/person"

	"github.com/google/uuid"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var restaurant = uuid.MustParse("0190f5a0-0000-7000-8000-000000000002")

func saved(spoil func(*person.Person)) person.Saved {
	p := person.Person{ID: uuid.MustParse("0190f5a0-0000-7000-8000-000000000001"), Name: "Mia Orchard", Email: "mia@otter.example", Role: access.Manager, Sites: []uuid.UUID{restaurant}}
	spoil(&p)
	return person.Saved{Person: p}
}

func TestWhoIsRightIsTaken(t *testing.T) {
	require.NoError(t, saved(func(*person.Person) {}).Validate())
	require.NoError(t, saved(func(p *person.Person) { p.Sites, p.Gone = nil, true }).Validate(), "who has left needs no restaurant")
	for _, role := range access.Roles() {
		assert.NoError(t, saved(func(p *person.Person) { p.Role = role }).Validate())
		if role != access.Manager {
			assert.NoError(t, saved(func(p *person.Person) { p.Role, p.Sites = role, nil }).Validate())
		}
	}
	assert.Equal(t, "person.saved", person.Saved{}.Kind())
}

// TestEachProblemIsFound has one row a problem; the entry has no other.
func TestEachProblemIsFound(t *testing.T) {
	for name, tt := range map[string]struct {
		spoil   func(*person.Person)
		field   string
		message string
	}{
		"no name":                {func(p *person.Person) { p.Name = " " }, "name", "Give the person's name."},
		"a long name":            {func(p *person.Person) { p.Name = strings.Repeat("x", 121) }, "name", "At most 120 characters."},
		"a name turned round":    {func(p *person.Person) { p.Name = "Mia\u202e" }, "name", "A character that cannot be seen stands in it after “Mia”, U+202E. Type the text again rather than pasting it."},
		"an area of two lines":   {func(p *person.Person) { p.Areas = []string{"north", "a\nb"} }, "areas", "Write it in one line, without line breaks."},
		"many areas":             {func(p *person.Person) { p.Areas = make([]string, 201) }, "areas", "At most 200 areas and 20000 restaurants."},
		"no address":             {func(p *person.Person) { p.Email = "" }, "email", "Give an e-mail address, for example sam@example.com."},
		"no role":                {func(p *person.Person) { p.Role = "" }, "role", "Say what the person does."},
		"an unknown role":        {func(p *person.Person) { p.Role = "king" }, "role", "Say what the person does."},
		"a manager of nothing":   {func(p *person.Person) { p.Sites = nil }, "sites", "A restaurant manager needs at least one restaurant."},
		"an address in capitals": {func(p *person.Person) { p.Email = "Mia@otter.example" }, "email", "Give an e-mail address, for example sam@example.com."},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, []fault.Field{{Name: tt.field, Message: tt.message}}, fault.FieldsOf(saved(tt.spoil).Validate()))
		})
	}
}

// TestAddresses reads addresses as RFC 5322 writes them; only a plain one can be signed in with.
func TestAddresses(t *testing.T) {
	for _, text := range []string{"sam@example.com", "sam+fry@example.com", "o'neil@example.com", "sam.x_y-z@sub.example.com", strings.Repeat("x", 64) + "@example.com"} {
		assert.True(t, person.ValidEmail(text), text)
	}
	for _, text := range []string{
		"", "sam", "@example.com", "sam@", "sam@@example.com", "sam@example.com ", " sam@example.com", "Sam@example.com", "Sam <sam@example.com>", "<sam@example.com>",
		"sam@example.com,ann@example.com", "sam@exa mple.com", "sam\n@example.com", strings.Repeat("x", 250) + "@example.com",
	} {
		assert.False(t, person.ValidEmail(text), text)
	}
	assert.Equal(t, "sam@example.com", person.CleanEmail("  Sam@Example.COM\n"))
}

func FuzzValidEmail(f *testing.F) {
	for _, seed := range []string{"sam@example.com", "Sam <sam@example.com>", "\"a b\"@example.com", "sam@[127.0.0.1]", "İ@example.com", "a@b\r\nBcc: c@d"} {
		f.Add(seed)
	}
	f.Fuzz(func(t *testing.T, text string) {
		if !person.ValidEmail(text) {
			return
		}
		require.Equal(t, text, person.CleanEmail(text), "it is stored as it is looked up")
		require.NotContains(t, text, "\n")
		require.NotContains(t, text, "\r")
		require.Contains(t, text, "@")
	})
}
