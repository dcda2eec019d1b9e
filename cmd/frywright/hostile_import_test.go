package main

import (
	"bytes"
	"mime/multipart"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"

	"frywright/domain/access"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// upload sends files as the form of the import does.
func (x *target) upload(files map[string]string) *httptest.ResponseRecorder {
	var body bytes.Buffer
	m := multipart.NewWriter(&body)
	for name, text := range files {
		part, err := m.CreateFormFile("files", name)
		require.NoError(x.t, err)
		_, err = part.Write([]byte(text))
		require.NoError(x.t, err)
	}
	require.NoError(x.t, m.Close())
	r := ask(http.MethodPost, "/import", body.String())
	r.Header.Set("Content-Type", m.FormDataContentType())
	return x.answer(access.Administrator, r)
}

// write writes the rows that are right of the files that were looked at.
func (x *target) write(checked *httptest.ResponseRecorder) *httptest.ResponseRecorder {
	return x.send(access.Administrator, http.MethodPost, "/import/write", url.Values{"batch": {hidden(x.t, checked.Body.String(), "batch")}, "good_rows": {"1"}}.Encode())
}

// TestNoFileBreaksTheImport puts every nasty value into every column of every kind of file, and into the file's name, looks
// at what would happen, and has the rows written that are right.
func TestNoFileBreaksTheImport(t *testing.T) {
	x := newTarget(t)
	for what, value := range nasty {
		cell := `"` + strings.ReplaceAll(value, `"`, `""`) + `"`
		for name, text := range fixtureFiles {
			lines := strings.SplitN(text, "\n", 3)
			columns := strings.Count(lines[0], ",") + 1
			right := strings.Split(lines[1], ",")
			for i := range columns {
				row := append([]string{}, right...)
				row[i] = cell
				lines[2] += strings.Join(row, ",") + "\n"
			}
			lines[2] += strings.Repeat(cell+",", columns-1) + cell + "\n"
			w := x.upload(map[string]string{value + name: strings.Join(lines, "\n")})
			sound(t, w, name+" with "+what)
			if w.Code == http.StatusOK && strings.Contains(w.Body.String(), `name="batch"`) {
				sound(t, x.write(w), name+" with "+what+", written")
			}
		}
	}
	x.staysSound()
}

// TestNoFileIsTakenForAnother sends what is no CSV.
func TestNoFileIsTakenForAnother(t *testing.T) {
	x := newTarget(t)
	for what, text := range map[string]string{
		"nothing": "", "NUL": strings.Repeat("\x00", 1000), "a workbook": "PK\x03\x04", "UTF-16": "\xff\xfet\x00a\x00g\x00", "a page": "<html><script>alert(1)</script>",
		"a quotation mark": `"`, "one line of a megabyte": strings.Repeat("a", 1<<20), "many columns": strings.Repeat("tag,", 100_000) + "\n", "many empty rows": strings.Repeat("\n", 100_000),
		"formulas": "tag,site,model\n=1+1,@A,-H1\n",
	} {
		sound(t, x.upload(map[string]string{"f.csv": text}), what)
	}
	for what, body := range map[string]string{
		"no end": "--x\r\nContent-Disposition: form-data; name=\"files\"; filename=\"a\"\r\n\r\ntag", "no part": "--x--\r\n", "nothing": "", "no header": "--x\r\n\r\n\r\n--x--\r\n",
		"headers": "--x\r\n" + strings.Repeat("A: b\r\n", 20_000) + "\r\n\r\n--x--\r\n", "parts": strings.Repeat("--x\r\nContent-Disposition: form-data; name=\"files\"\r\n\r\na\r\n", 5_000) + "--x--\r\n",
	} {
		r := ask(http.MethodPost, "/import", body)
		r.Header.Set("Content-Type", "multipart/form-data; boundary=x")
		w := x.answer(access.Administrator, r)
		sound(t, w, what)
		assert.GreaterOrEqual(t, w.Code, 400, what)
	}
}

// TestWhatIsExportedIsImportedUnchanged takes a sheet away as files and brings it back: nothing differs, formulas and all.
func TestWhatIsExportedIsImportedUnchanged(t *testing.T) {
	x := newTarget(t)
	path, values := x.shown["/sheets/{id}/settings/{key}"]()
	values.Set("label", "=1+1")
	values.Set("note", "-5 °F\n@home")
	values.Set("min", "-5")
	require.Equal(t, http.StatusSeeOther, x.send(access.Administrator, http.MethodPost, path, values.Encode()).Code)
	files := map[string]string{}
	for _, kind := range []string{"sheets.csv", "interlocks.csv"} {
		w := x.send(access.Administrator, http.MethodGet, "/sheets/"+x.sheet.String()+"/files/"+kind, "")
		require.Equal(t, http.StatusOK, w.Code)
		files[kind] = w.Body.String()
	}
	assert.Contains(t, files["sheets.csv"], ",'=1+1,")
	assert.Contains(t, files["sheets.csv"], ",-5,", "a number stays one")
	w := x.upload(files)
	require.Equal(t, http.StatusOK, w.Code)
	assert.NotContains(t, w.Body.String(), `name="batch"`, "there is nothing to write")
	assert.NotContains(t, w.Body.String(), "wrong")
}
