package beltmath

import (
	"fmt"
	"io/fs"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// tableSources returns the Source text of every value the tables hold.
func tableSources() []string {
	var texts []string
	for _, s := range Sections() {
		values := append([]Value{
			s.PitchMM, s.PitchLineDifferentialMM, s.MinToothCount, s.BeltHeightMM, s.ToothHeightMM,
			s.Rating.BaseWidthMM, s.Rating.WorkingTensionN, s.Rating.MassKgPerM,
		}, s.WidthsMM...)
		for _, step := range s.LengthTolerances() {
			values = append(values, step.ToleranceMM)
		}
		for _, v := range values {
			if v.Value != nil {
				texts = append(texts, v.Source)
			}
		}
		for _, length := range s.BeltLengths() {
			texts = append(texts, length.Source)
		}
	}
	return texts
}

func TestEverySourceIsExplainedOnce(t *testing.T) {
	titles := map[string]string{}
	for _, source := range Sources() {
		assert.Empty(t, titles[source.Tag], source.Tag)
		assert.NotEmpty(t, source.Title, source.Tag)
		titles[source.Tag] = source.Title
	}
	for _, text := range tableSources() {
		for _, tag := range strings.Split(text, ", ") {
			if tag != fromMemory && tag != sourcesDisagree {
				assert.NotEmpty(t, titles[tag], "%s in %q", tag, text)
			}
		}
	}
	code := packageText(t)
	for _, tag := range sourceTag.FindAllString(code, -1) {
		assert.NotEmpty(t, titles[tag], "%s is cited in a comment", tag)
	}
	cited := code + strings.Join(tableSources(), "\n")
	for tag := range titles {
		assert.Regexp(t, `\b`+regexp.QuoteMeta(tag)+`\b`, cited, "%s is cited nowhere", tag)
	}
}

// packageText returns the code of this package and those below it, without
// tests and without the list of sources.
func packageText(t *testing.T) string {
	t.Helper()
	var text strings.Builder
	err := filepath.WalkDir(".", func(path string, _ fs.DirEntry, err error) error {
		if err != nil || filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") || path == "sources.go" {
			return err
		}
		code, err := os.ReadFile(path)
		text.Write(code)
		return err
	})
	require.NoError(t, err)
	return strings.ReplaceAll(text.String(), "S4.5M", "") // a section, not source S4
}

func ExampleSources() {
	for _, source := range Sources() {
		if source.Tag == "S11" {
			fmt.Println(source.Title)
		}
	}
	// Output: ISO 13050:2014 and ISO 13050:2022, scope
}

func TestEveryFormulaHasASource(t *testing.T) {
	remarks := []string{
		fromMemory, commonPractice, derived, "makers' manuals", "theorem of Pythagoras", "statics", "one floor under all wheels",
		strings.Split(commonPractice, ", ")[0], strings.Split(commonPractice, ", ")[1],
	}
	for _, f := range Formulas() {
		assert.NotEmpty(t, f.Form, f.Name)
		for _, tag := range strings.Split(f.Source, ", ") {
			known := slices.ContainsFunc(sources, func(s Source) bool { return s.Tag == tag })
			assert.True(t, known || slices.Contains(remarks, tag), "%s: %q is no source", f.Name, tag)
		}
	}
}
