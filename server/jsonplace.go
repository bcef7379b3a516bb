package server

import (
	"bytes"
	"encoding/json"
	"fmt"
	"strings"

	"google.golang.org/protobuf/reflect/protoreflect"
)

// locate names the token that starts at byte i of valid JSON, read as a
// message of type root.
func locate(data []byte, i int, root protoreflect.MessageDescriptor) place {
	dec := json.NewDecoder(bytes.NewReader(data))
	dec.UseNumber()
	var open []level
	for {
		token, err := dec.Token()
		if err != nil {
			return place{}
		}
		top := len(open) - 1
		delim, isDelim := token.(json.Delim)
		closing := isDelim && (delim == '}' || delim == ']')
		if top >= 0 && !closing {
			open[top].step(token)
		}
		if dec.InputOffset() > int64(i) {
			return describe(open, token, root)
		}
		switch {
		case closing:
			open = open[:top]
		case isDelim:
			open = append(open, level{object: delim == '{', index: -1})
		}
	}
}

// level is one object or list that is open at a place.
type level struct {
	object bool
	key    string // of an object: the last key
	inside bool   // of an object: whether the key's value is awaited or read
	index  int    // of a list: the last index
}

func (l *level) step(token json.Token) {
	switch key, isText := token.(string); {
	case !l.object:
		l.index++
	case l.inside:
		l.inside = false
	case isText:
		l.key, l.inside = key, true
	}
}

// describe turns the open levels into a path of proto names.
func describe(open []level, token json.Token, root protoreflect.MessageDescriptor) place {
	at := place{token: tokenText(token), parent: root}
	var path strings.Builder
	for _, l := range open {
		if !l.object {
			fmt.Fprintf(&path, "[%d]", l.index)
			continue
		}
		if at.field != nil {
			at.parent, at.field = at.field.Message(), nil
		}
		name := l.key
		if at.parent != nil {
			if at.field = findField(at.parent, l.key); at.field != nil {
				name = string(at.field.Name())
			}
		}
		if path.Len() > 0 {
			path.WriteByte('.')
		}
		path.WriteString(name)
	}
	at.path = clip(path.String())
	return at
}

func tokenText(token json.Token) string {
	switch t := token.(type) {
	case json.Delim:
		if t == '{' || t == '}' {
			return "an object"
		}
		return "a list"
	case string:
		return quote(t)
	case nil:
		return "null"
	default:
		return clip(fmt.Sprint(t))
	}
}
