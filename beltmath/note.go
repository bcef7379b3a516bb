package beltmath

// Severity says how much a Note matters.
type Severity int

// The severities, in rising order.
const (
	SeverityInfo    Severity = iota + 1 // good to know
	SeverityCaution                     // unwise or unsafe; look before building
)

// Note is a remark on a result that is possible but deserves a look.
type Note struct {
	// Reason is a stable UPPER_SNAKE word.
	Reason string
	// Severity says how much it matters.
	Severity Severity
	// Message tells people what it means and what to do.
	Message string
	// Field is the dotted Go path of the input it is about, or empty.
	Field string
}
