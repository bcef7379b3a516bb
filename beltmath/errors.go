package beltmath

import (
	"fmt"
	"math"
	"strconv"
	"strings"
)

// InputError reports one value outside its domain.
type InputError struct {
	// Field is the dotted Go path of the value inside the input it belongs to,
	// such as "Driver.ToothCount"; the indexes of lists stand as "Items[3]".
	Field string
	// Value is what was given.
	Value any
	// Reason is a stable UPPER_SNAKE word.
	Reason string
	// Msg tells people what is allowed and what to change.
	Msg string
}

func (e *InputError) Error() string {
	return e.Field + " is " + FormatValue(e.Value) + ": " + e.Msg
}

// FormatValue writes a value of an error as people read it: numbers below 1e15
// without an exponent.
func FormatValue(value any) string {
	if v, ok := value.(float64); ok && math.Abs(v) >= 1e6 && math.Abs(v) < 1e15 {
		return strconv.FormatFloat(v, 'f', -1, 64)
	}
	return fmt.Sprint(value)
}

// InputErrors holds every InputError of one input, so that a caller can mend
// all of them at once.
type InputErrors []*InputError

func (e InputErrors) Error() string {
	texts := make([]string, len(e))
	for i, one := range e {
		texts[i] = one.Error()
	}
	return strings.Join(texts, "; ")
}

// Unwrap gives the single errors to errors.Is and errors.As.
func (e InputErrors) Unwrap() []error {
	errs := make([]error, len(e))
	for i, one := range e {
		errs[i] = one
	}
	return errs
}

// Err returns e as an error, or nil when it holds nothing.
func (e InputErrors) Err() error {
	if len(e) == 0 {
		return nil
	}
	return e
}

// NoSolutionError reports an input whose values are all allowed but for which
// no drive exists, such as a belt too short for its pulleys.
type NoSolutionError struct {
	// Field is the dotted Go path of the value to change.
	Field string
	// Value is what was given.
	Value any
	// Reason is a stable UPPER_SNAKE word.
	Reason string
	// Msg tells people what would work.
	Msg string
	// Nearest is the nearest value of Field that works, as text for a program
	// to read; empty where there is none.
	Nearest string
}

func (e *NoSolutionError) Error() string {
	return e.Field + " is " + FormatValue(e.Value) + ": " + e.Msg
}

// The stable reason words of InputError.
const (
	ReasonOutOfRange         = "OUT_OF_RANGE"        // a number outside its stated range
	ReasonNotFinite          = "NOT_FINITE"          // NaN or an infinity
	ReasonExactlyOne         = "EXACTLY_ONE"         // two alternatives together, or neither
	ReasonUnknownSection     = "UNKNOWN_SECTION"     // no belt section of that designation
	ReasonUnknownDesignation = "UNKNOWN_DESIGNATION" // a belt designation that names no whole belt
	ReasonNoStandardLengths  = "NO_STANDARD_LENGTHS" // no list of standard lengths is held
	ReasonNoTolerance        = "NO_TOLERANCE_HELD"   // no tolerance of this belt is held
	ReasonNoRating           = "NO_RATING_HELD"      // no rating of this belt is held
	ReasonOnlyFirst          = "ONLY_FIRST_CHUNK"    // given in a later chunk of a stream
)

// The stable reason words of NoSolutionError.
const (
	ReasonBeltTooShort = "BELT_TOO_SHORT" // the belt does not reach round the pulleys
	ReasonPulleysTouch = "PULLEYS_TOUCH"  // the pulleys would overlap
	ReasonFlangesTouch = "FLANGES_TOUCH"  // the flanges would overlap
	ReasonNoBelt       = "NO_BELT_FITS"   // no belt in range fits the center distance
	ReasonNoPulley     = "NO_PULLEY_FITS" // no pulley in range fits the center distance
)
