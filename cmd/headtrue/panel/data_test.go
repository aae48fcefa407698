package panel

import (
	"encoding/json"
	"strings"
	"testing"
	"time"
)

// After two runs the logbook is read by pages: the list with its search, a run, its sheet in each
// form, its sound, two runs compared, a chart, names; and an error names what is not there.
func TestPastWorkIsRead(t *testing.T) {
	p := serve(t, nil)
	f := join(t, p)
	var runs []string
	for _, unit := range []string{"D-1", "D-2"} {
		f.must("align", map[string]any{"unit": unit, "operator": "K"})
		if end := f.answers(100*time.Second, yes); end["error"] != nil {
			t.Fatal(end["error"])
		}
		runs = append(runs, f.newest("result")["result"].(map[string]any)["run"].(string))
	}
	f.must("note", map[string]any{"run": runs[0], "text": "spring replaced"})
	bearer := map[string]string{"Authorization": "Bearer " + p.token}
	for path, c := range map[string]struct {
		status int
		begins string
		has    string
	}{
		"runs":                                          {200, `{"more":false,"runs":[{"run":"` + runs[1], `"left_off_arcmin"`},
		"runs?text=d-1":                                 {200, `{"more":false,"runs":[{"run":"` + runs[0], `"D-1"`},
		"runs?limit=1":                                  {200, `{"more":true`, runs[1]},
		"runs?limit=0":                                  {400, "", "limit"},
		"runs?since=yesterday":                          {400, "", "since"},
		"runs/" + runs[0]:                               {200, `[{"kind":"start"`, "spring replaced"},
		"runs/" + runs[0] + "/sheet.txt":                {200, "", "PASS"},
		"runs/" + runs[0] + "/sheet.pdf":                {200, "%PDF-", ""},
		"runs/" + runs[0] + "/workshop.pdf":             {200, "%PDF-", ""},
		"runs/" + runs[0] + "/label.pdf":                {200, "%PDF-", ""},
		"runs/" + runs[0] + "/sheet.html":               {200, "<!", "D-1"},
		"runs/" + runs[0] + "/figures.svg":              {200, "<svg", ""},
		"runs/" + runs[0] + "/before.wav":               {200, "RIFF", ""},
		"runs/" + runs[0] + "/after.wav":                {200, "RIFF", ""},
		"runs/" + runs[0] + "/listen":                   {200, `{"after":true,"before":true`, "said"},
		"runs/" + runs[0] + "/..%2f..%2fpanel.go":       {400, "", "no file"},
		"runs/19990101T000000Z":                         {404, "", "19990101T000000Z"},
		"compare?a=" + runs[0] + "&b=" + runs[1]:        {200, "", "D-2"},
		"compare?as=pdf&a=" + runs[0] + "&b=" + runs[1]: {200, "%PDF-", ""},
		"chart?of=left-off&as=txt":                      {200, "", "left-off"},
		"chart?of=nonsense":                             {400, "", "left-off"},
		"chart?as=exe":                                  {400, "", "svg"},
		"names":                                         {200, "{", `"units":["D-2","D-1"]`},
		"studies":                                       {200, `{"studies":[]}`, ""},
		"studies/none":                                  {400, "", "none"},
	} {
		status, _, body := get(t, p, "GET", "/data/"+path, bearer)
		if status != c.status || !strings.HasPrefix(body, c.begins) || !strings.Contains(body, c.has) {
			t.Errorf("%s: %d, %.200q", path, status, body)
		}
		if status >= 400 && !json.Valid([]byte(body)) {
			t.Errorf("%s: the error is no JSON: %q", path, body)
		}
	}
}
