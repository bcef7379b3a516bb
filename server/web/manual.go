package web

import (
	"encoding/json"
	"fmt"
	"html/template"
	"net/http"
	"slices"
	"sort"
	"strings"
)

// manual is the API for people, read from its OpenAPI document.
type manual struct {
	Intro    []string
	Services []*service
	Messages []*message
}

type service struct {
	Name  string
	Intro []string
	Calls []*call
}

// call is one method with the ways to reach it.
type call struct {
	Name         string
	Ways         []string // "GET /v1/sections"
	Intro        []string
	Request      *message // nil where the path and the query hold everything
	RequestName  string
	ResponseName string
	Parameters   []property
	Example      *example
}

// message is one message or enum of the API.
type message struct {
	Name       string
	Intro      []string
	Properties []property
	Values     []property // of an enum
}

type property struct {
	Name, Type string
	Link       string // the message that the type is
	Required   bool
	Intro      []string
}

// openAPI is what the manual reads of the document.
type openAPI struct {
	Info  struct{ Description string }
	Tags  []struct{ Name, Description string }
	Paths map[string]map[string]struct {
		Summary, Description, OperationID string
		Tags                              []string
		Responses                         map[string]struct{ Schema schema }
		Parameters                        []struct {
			schema
			Name, In string
			Required bool
			Schema   schema
		}
	}
	Definitions map[string]schema
}

type schema struct {
	Ref                       string `json:"$ref"`
	Type, Format, Description string
	Title                     string
	Items                     *schema
	Properties                map[string]schema
	Required                  []string
	Enum                      []string
}

// readManual reads the document.
func readManual(document []byte) (*manual, error) {
	var doc openAPI
	if err := json.Unmarshal(document, &doc); err != nil {
		return nil, fmt.Errorf("the OpenAPI document: %w", err)
	}
	m := &manual{Intro: paragraphs(doc.Info.Description)}
	services := map[string]*service{}
	for _, tag := range doc.Tags {
		services[tag.Name] = &service{Name: tag.Name, Intro: paragraphs(tag.Description)}
		m.Services = append(m.Services, services[tag.Name])
	}
	slices.SortStableFunc(m.Services, func(a, b *service) int { return serviceRank(a.Name) - serviceRank(b.Name) })
	for _, path := range sortedKeys(doc.Paths) {
		for _, verb := range sortedKeys(doc.Paths[path]) {
			doc.addCall(services, path, verb)
		}
	}
	for _, name := range sortedKeys(doc.Definitions) {
		if strings.HasPrefix(name, "v1") {
			m.Messages = append(m.Messages, doc.message(name))
		}
	}
	return m, nil
}

// serviceRank brings what most come for to the top.
func serviceRank(name string) int {
	return slices.Index([]string{"DriveService", "BaseService", "PathService", "SectionService"}, name)
}

func sortedKeys[V any](m map[string]V) []string {
	keys := make([]string, 0, len(m))
	for key := range m {
		keys = append(keys, key)
	}
	sort.Strings(keys)
	return keys
}

func (doc *openAPI) addCall(services map[string]*service, path, verb string) {
	op := doc.Paths[path][verb]
	_, name, _ := strings.Cut(strings.TrimSuffix(op.OperationID, "2"), "_")
	s := services[op.Tags[0]]
	i := slices.IndexFunc(s.Calls, func(c *call) bool { return c.Name == name })
	if i < 0 {
		s.Calls = append(s.Calls, &call{Name: name, Intro: paragraphs(op.Summary + "\n\n" + op.Description), Example: exampleOf(name)})
		i = len(s.Calls) - 1
	}
	c := s.Calls[i]
	c.Ways = append(c.Ways, strings.ToUpper(verb)+" "+path)
	response := op.Responses["200"].Schema
	c.ResponseName = typeName(response.Ref)
	if result, ok := response.Properties["result"]; ok { // of a stream
		c.ResponseName = typeName(result.Ref)
	}
	for _, p := range op.Parameters {
		if p.In == "body" {
			c.RequestName = typeName(p.Schema.Ref)
			c.Request = doc.message(strings.TrimPrefix(p.Schema.Ref, "#/definitions/"))
			continue
		}
		c.Parameters = append(c.Parameters, doc.property(p.Name, p.schema, p.Required))
	}
}

// message reads a definition.
func (doc *openAPI) message(name string) *message {
	d := doc.Definitions[name]
	m := &message{Name: typeName(name), Intro: paragraphs(d.Title + "\n\n" + d.Description)}
	for _, key := range sortedKeys(d.Properties) {
		m.Properties = append(m.Properties, doc.property(key, d.Properties[key], slices.Contains(d.Required, key)))
	}
	if len(d.Enum) > 0 {
		m.Intro, m.Values = enumText(d)
	}
	return m
}

// enumText splits the text of an enum, in which each value has a line that
// begins with " - NAME: ".
func enumText(d schema) (intro []string, values []property) {
	text := d.Title + "\n\n" + d.Description
	parts := strings.Split(text, "\n - ")
	for _, part := range parts[1:] {
		name, about, _ := strings.Cut(part, ":")
		values = append(values, property{Name: name, Intro: paragraphs(about)})
	}
	return paragraphs(strings.TrimPrefix(parts[0], " - ")), values
}

func (doc *openAPI) property(name string, s schema, required bool) property {
	p := property{Name: name, Required: required, Intro: paragraphs(s.Title + "\n\n" + s.Description)}
	p.Type, p.Link = s.typeText()
	return p
}

// typeText says what a value is.
func (s *schema) typeText() (text, link string) {
	switch {
	case s.Ref != "":
		return typeName(s.Ref), typeName(s.Ref)
	case s.Type == "array" && s.Items != nil:
		text, link = s.Items.typeText()
		return "list of " + text, link
	case s.Format == "int32":
		return "whole number", ""
	case s.Format == "int64":
		return "whole number, as text", ""
	case s.Type == "number":
		return "number", ""
	case s.Type == "boolean":
		return "true or false", ""
	}
	return "text", ""
}

// typeName is the name of a definition without its package.
func typeName(ref string) string {
	return strings.TrimPrefix(strings.TrimPrefix(ref, "#/definitions/"), "v1")
}

// paragraphs splits a comment.
func paragraphs(text string) []string {
	var out []string
	for part := range strings.SplitSeq(text, "\n\n") {
		if part = strings.TrimSpace(strings.ReplaceAll(part, "\n", " ")); part != "" {
			out = append(out, part)
		}
	}
	return out
}

// api is the page of the API.
func (p *pages) api(_ http.ResponseWriter, _ *http.Request, v *view) bool {
	v.Title = "The API"
	v.Answer = p.manual
	return true
}

// prose puts what a comment has between backquotes into the type of code.
func prose(text string) template.HTML {
	var out strings.Builder
	for i, part := range strings.Split(text, "`") {
		if i%2 == 1 {
			out.WriteString("<code>" + template.HTMLEscapeString(part) + "</code>")
			continue
		}
		out.WriteString(template.HTMLEscapeString(part))
	}
	return template.HTML(out.String()) //nolint:gosec // its parts are escaped
}
