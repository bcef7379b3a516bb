package main

import (
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"
	"google.golang.org/protobuf/encoding/protojson"
	"google.golang.org/protobuf/proto"
	"google.golang.org/protobuf/reflect/protoreflect"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
)

// request writes a question for REST.
func (m *askedMethod) request(t *testing.T, d dice, q proto.Message) (verb, address string, body []byte) {
	t.Helper()
	address = m.path
	if section, ok := q.(interface{ GetSection() string }); ok && strings.Contains(address, "{section}") {
		address = strings.Replace(address, "{section}", url.PathEscape(section.GetSection()), 1)
	}
	if m.inAddress == only || m.inAddress == also && d.IntN(2) == 0 {
		if query, ok := m.query(d, q); ok {
			return http.MethodGet, address + "?" + query.Encode(), nil
		}
	}
	options := pick(d, protojson.MarshalOptions{}, protojson.MarshalOptions{UseProtoNames: true}, protojson.MarshalOptions{EmitUnpopulated: true, Multiline: true})
	body, err := options.Marshal(q)
	require.NoError(t, err)
	return http.MethodPost, address, body
}

// query writes a question as parameters; ok is false where it has what they
// cannot say.
func (m *askedMethod) query(d dice, q proto.Message) (values url.Values, ok bool) {
	values, ok = url.Values{}, true
	var add func(prefix string, message protoreflect.Message)
	add = func(prefix string, message protoreflect.Message) {
		for field, value := range message.Range {
			name := prefix + pick(d, string(field.Name()), field.JSONName())
			switch {
			case strings.Contains(m.path, "{"+string(field.Name())+"}"):
			case field.IsList() && field.Message() == nil:
				for i := range value.List().Len() {
					values.Add(name, parameter(field, value.List().Get(i)))
				}
			case field.IsList():
				ok = false
			case field.Message() != nil:
				add(name+".", value.Message())
			default:
				text := parameter(field, value)
				ok = ok && text != "?"
				values.Set(name, text)
			}
		}
	}
	add("", q.ProtoReflect())
	return values, ok
}

func parameter(field protoreflect.FieldDescriptor, value protoreflect.Value) string {
	switch field.Kind() {
	case protoreflect.DoubleKind:
		return strings.Replace(strings.Replace(strconv.FormatFloat(value.Float(), 'g', -1, 64), "+Inf", "Infinity", 1), "-Inf", "-Infinity", 1) // as in JSON
	case protoreflect.EnumKind:
		known := field.Enum().Values().ByNumber(value.Enum())
		if known == nil {
			return "?"
		}
		return string(known.Name())
	default:
		return value.String()
	}
}

// The ways in which a method takes a question in the address.
const (
	never = iota
	also
	only
)

// askedMethod is a method and how to ask it.
type askedMethod struct {
	service, name string
	path          string // of REST
	inAddress     int
	ask           func(dice) proto.Message
	command       func(proto.Message) *commandLine
}

func asked[Q proto.Message](service, name, path string, inAddress int, ask func(dice) Q, command func(*commandLine, Q)) *askedMethod {
	return &askedMethod{service, name, path, inAddress, func(d dice) proto.Message { return ask(d) }, func(q proto.Message) *commandLine {
		line := &commandLine{ok: true}
		command(line, q.(Q)) //nolint:forcetypeassert // made by ask
		return line
	}}
}

// askedMethods are the methods that are asked; a method that is here more than
// once is asked more often.
var askedMethods = []*askedMethod{
	asked("DriveService", "SolveCenterDistance", "/v1/drives:solveCenterDistance", also, dice.centerRequest, (*commandLine).center),
	asked("DriveService", "SolveBelt", "/v1/drives:solveBelt", also, dice.beltRequest, (*commandLine).belt),
	asked("DriveService", "SolvePulley", "/v1/drives:solvePulley", also, dice.pulleyRequest, (*commandLine).pulley),
	asked("DriveService", "SearchSpacings", "/v1/drives:searchSpacings", also, dice.spacingsRequest, (*commandLine).spacings),
	asked("DriveService", "CheckDrives", "/v1/drives:check", never, dice.checkRequest, (*commandLine).check),
	asked("DriveService", "SearchSubstitutes", "/v1/drives:searchSubstitutes", never, dice.substitutesRequest, (*commandLine).substitutes),
	asked("DriveService", "SolveSharedHole", "/v1/drives:solveSharedHole", never, dice.sharedHoleRequest, (*commandLine).sharedHole),
	asked("DriveService", "AnalyzeFit", "/v1/drives:analyzeFit", never, dice.fitRequest, (*commandLine).fit),
	asked("DriveService", "RateDrive", "/v1/drives:rate", never, dice.rateRequest, (*commandLine).rate),
	asked("PathService", "SolvePath", "/v1/paths:solve", never, dice.pathRequest, (*commandLine).path),
	asked("BaseService", "SearchBases", "/v1/bases:search", never, dice.searchBasesRequest, (*commandLine).baseSearch),
	asked("BaseService", "LayOutBase", "/v1/bases:layOut", never, dice.layOutRequest, (*commandLine).baseLayout),
	asked("SectionService", "ListSections", "/v1/sections", only, dice.sectionsRequest, (*commandLine).sections),
	asked("SectionService", "GetSection", "/v1/sections/{section}", only, dice.sectionRequest, func(c *commandLine, q *pb.GetSectionRequest) { c.begin("sections"); c.word(q.Section) }),
	asked("SectionService", "ListBeltLengths", "/v1/sections/{section}/beltLengths", only, dice.lengthsRequest, (*commandLine).lengths),
}
