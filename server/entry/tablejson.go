package entry

import (
	"bytes"
	"encoding/json"
	"strings"
)

// readObject reads a line of NDJSON. Numbers and texts are cells, null is an
// empty one.
func (t *Table) readObject(line []byte) {
	decoder := json.NewDecoder(bytes.NewReader(line))
	decoder.UseNumber()
	if open, err := decoder.Token(); err != nil || open != json.Delim('{') {
		t.row.malformed("is no JSON object")
		return
	}
	seen := map[string]bool{}
	for decoder.More() {
		if !t.readMember(decoder, seen) {
			return
		}
	}
	if _, err := decoder.Token(); err != nil {
		t.row.malformed("is no whole JSON object")
		return
	}
	if rest := bytes.TrimSpace(line[decoder.InputOffset():]); len(rest) > 0 {
		t.row.malformed("has more than one JSON object: %s follows", Quoted(string(rest)))
	}
}

// readMember reads a key and its value, and tells whether the next can follow.
func (t *Table) readMember(decoder *json.Decoder, seen map[string]bool) bool {
	token, err := decoder.Token()
	key, ok := token.(string)
	if err != nil || !ok {
		t.row.malformed("is no whole JSON object")
		return false
	}
	value, err := decoder.Token()
	if err != nil {
		t.row.malformed("has a value of %s that is no JSON", Quoted(key))
		return false
	}
	h, ok := t.find(key)
	switch {
	case !ok:
		t.row.malformed("has the key %s: there is no such column, the nearest is %s; there are %s", Quoted(key), t.nearest(key), strings.Join(t.Columns, ", "))
		return false
	case seen[t.Columns[h.index]]:
		t.row.malformed("has %s twice", t.Columns[h.index])
		return false
	}
	seen[t.Columns[h.index]] = true
	c := cell{unit: h.unit}
	switch v := value.(type) {
	case nil:
	case string:
		c.text = strings.TrimSpace(v)
	case json.Number:
		c.text = v.String()
	default:
		t.row.malformed("has a value of %s that is neither number nor text", key)
		return false
	}
	t.row.cells[h.index] = c
	return true
}
