package server

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"regexp"
	"strconv"
	"strings"
	"unicode/utf8"

	"google.golang.org/protobuf/reflect/protoreflect"

	"github.com/beltspan/beltspan/server/entry"
)

// jsonFault explains why data does not decode as a message of type desc.
// protojson's error gives the place; its text is unstable by design, so the
// words are ours.
func jsonFault(data []byte, desc protoreflect.MessageDescriptor, err error) error {
	var syntax *json.SyntaxError
	var value json.RawMessage
	if !utf8.Valid(data) {
		return errMalformed(reasonMalformedJSON, "malformed JSON: the body is not UTF-8")
	}
	if errors.As(json.Unmarshal(data, &value), &syntax) {
		line, column := position(data, int(syntax.Offset)-1)
		return errMalformed(reasonMalformedJSON, fmt.Sprintf("malformed JSON at line %d, column %d: %v", line, column, syntax))
	}
	place := protojsonPlace.FindStringSubmatch(err.Error())
	if place == nil {
		return errMalformed(reasonMalformedJSON, "the body cannot be decoded: check it against the API description")
	}
	line, _ := strconv.Atoi(place[1])
	column, _ := strconv.Atoi(place[2])
	at := locate(data, offset(data, line, column), desc)
	at.line = line
	switch text := place[3]; {
	case strings.HasPrefix(text, "unknown field"):
		return errFaults(at.unknownField())
	case strings.HasPrefix(text, "duplicate field"):
		return errFaults(fault{
			at.path, reasonDuplicateField,
			fmt.Sprintf("%s is given twice, again at line %d: give it once", at.path, line),
		})
	default:
		return errFaults(at.invalidValue())
	}
}

// protojsonPlace finds line, column and the rest in an error of protojson.
var protojsonPlace = regexp.MustCompile(`\(line (\d+):(\d+)\): (.*)`)

// position gives line and column, in characters from 1, of the byte at i.
func position(data []byte, i int) (line, column int) {
	before := data[:min(max(i, 0), len(data))]
	start := bytes.LastIndexByte(before, '\n') + 1
	return bytes.Count(before, []byte("\n")) + 1, utf8.RuneCount(before[start:]) + 1
}

// offset is the reverse of position.
func offset(data []byte, line, column int) int {
	i := 0
	for ; line > 1; line-- {
		i += bytes.IndexByte(data[i:], '\n') + 1
	}
	for ; column > 1 && i < len(data); column-- {
		_, size := utf8.DecodeRune(data[i:])
		i += size
	}
	return i
}

// place is a place in a JSON text, in the words of the proto.
type place struct {
	path   string                         // such as "items[3].drive.pitch_mm"
	token  string                         // what stands there
	line   int                            // from 1
	parent protoreflect.MessageDescriptor // the message that the last name of path is looked for in
	field  protoreflect.FieldDescriptor   // what path names; nil if unknown
}

func (p place) unknownField() fault {
	text := fmt.Sprintf("unknown field %s at line %d", quote(p.path), p.line)
	if p.parent != nil {
		names := fieldNames(p.parent)
		last := p.path[strings.LastIndexByte(p.path, '.')+1:]
		text += fmt.Sprintf(": the nearest is %q, allowed are %s", entry.Nearest(last, names), strings.Join(names, ", "))
	}
	return fault{p.path, reasonUnknownField, text}
}

func (p place) invalidValue() fault {
	want := "what the API description says"
	if p.field != nil {
		want = wanted(p.field)
	}
	name := p.path
	if name == "" {
		name, want = "the body", "one object in braces"
	}
	return fault{p.path, reasonInvalidValue, fmt.Sprintf("%s is %s at line %d: give %s", name, p.token, p.line, want)}
}

// wanted says in words what a field takes.
func wanted(field protoreflect.FieldDescriptor) string {
	one := wantedOne(field)
	if field.IsList() {
		return "a list, each of it " + one
	}
	return one
}

func wantedOne(field protoreflect.FieldDescriptor) string {
	switch field.Kind() {
	case protoreflect.BoolKind:
		return "true or false"
	case protoreflect.StringKind:
		return "text"
	case protoreflect.DoubleKind, protoreflect.FloatKind:
		return "a finite number"
	case protoreflect.MessageKind, protoreflect.GroupKind:
		return "an object with " + strings.Join(fieldNames(field.Message()), ", ")
	case protoreflect.EnumKind:
		values := field.Enum().Values()
		names := make([]string, values.Len()-1)
		for i := range names {
			names[i] = string(values.Get(i + 1).Name()) // the first says that none is given
		}
		return "one of " + strings.Join(names, ", ")
	default:
		return "a whole number of at most 2147483647"
	}
}

func fieldNames(desc protoreflect.MessageDescriptor) []string {
	fields := desc.Fields()
	names := make([]string, fields.Len())
	for i := range names {
		names[i] = string(fields.Get(i).Name())
	}
	return names
}

// findField finds a field by its proto or its JSON name.
func findField(desc protoreflect.MessageDescriptor, name string) protoreflect.FieldDescriptor {
	if field := desc.Fields().ByName(protoreflect.Name(name)); field != nil {
		return field
	}
	return desc.Fields().ByJSONName(name)
}
