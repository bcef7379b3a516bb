package base

// Stock is what is on the shelf.
type Stock struct{ Belts, Pulleys []StockItem }

// StockItem is belts or pulleys of one kind.
type StockItem struct {
	Section    string
	ToothCount int
	WidthMM    float64
	Quantity   int
}
