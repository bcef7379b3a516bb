package beltmath

import (
	"fmt"
	"math"
	"strings"
)

func (e *InputErrors) add(field string, value any, reason, msg string) {
	*e = append(*e, &InputError{Field: field, Value: value, Reason: reason, Msg: msg})
}

// addUnder takes an InputError over with its field put under path.
func (e *InputErrors) addUnder(path string, err error) {
	if one, ok := err.(*InputError); ok { //nolint:errorlint // made here, never wrapped
		e.add(path+one.Field, one.Value, one.Reason, one.Msg)
	}
}

func (e *InputErrors) checkCount(field string, value, least, most int) {
	if value < least || value > most {
		e.add(field, value, ReasonOutOfRange, fmt.Sprintf("give a whole number from %d to %d", least, most))
	}
}

// CheckRange reports whether value lies in least to most, both inclusive, and
// otherwise adds what to change.
func (e *InputErrors) CheckRange(field string, value, least, most float64) bool {
	if !e.checkFinite(field, value) {
		return false
	}
	if value < least || value > most {
		e.add(field, value, ReasonOutOfRange, "give a number from "+FormatValue(least)+" to "+FormatValue(most))
		return false
	}
	return true
}

// CheckPositive reports whether value lies above 0 and at most at most, and
// otherwise adds what to change.
func (e *InputErrors) CheckPositive(field string, value, most float64) bool {
	if !e.checkFinite(field, value) {
		return false
	}
	if value <= 0 || value > most {
		e.add(field, value, ReasonOutOfRange, "give a number above 0 and at most "+FormatValue(most))
		return false
	}
	return true
}

func (e *InputErrors) checkFinite(field string, value float64) bool {
	if math.IsNaN(value) || math.IsInf(value, 0) {
		e.add(field, value, ReasonNotFinite, "give a finite number")
		return false
	}
	return true
}

// FindSection returns the section of the given designation, in its letter
// case. Its error is an *InputError that names the nearest designations.
func FindSection(designation string) (*Section, error) {
	if s, ok := SectionByName(designation); ok {
		return s, nil
	}
	nearest := NearestSections(designation)
	if strings.EqualFold(nearest[0], designation) {
		return nil, &InputError{
			Field: "Section", Value: fmt.Sprintf("%.40q", designation), Reason: ReasonUnknownSection,
			Msg: "no such section, the letter case counts: write " + nearest[0],
		}
	}
	return nil, &InputError{
		Field: "Section", Value: fmt.Sprintf("%.40q", designation), Reason: ReasonUnknownSection,
		Msg: "no such section; the nearest are " + strings.Join(nearest, ", ") +
			"; any other pitch goes into pitch_mm",
	}
}
