package main

import (
	"os"

	pb "github.com/beltspan/beltspan/api/beltspan/v1"
	"github.com/beltspan/beltspan/server/entry"
)

const stockHelp = `A file of parts has the columns ` + "kind,section,tooth_count,width_mm,quantity" + ` with
belt or pulley as kind; width_in is in inches.`

// readStock reads what is on the shelf.
func readStock(path string) (*pb.Stock, error) {
	file, err := os.Open(path)
	if err != nil {
		return nil, &usageError{msg: "--stock: " + err.Error()}
	}
	defer file.Close() //nolint:errcheck // only read
	return entry.ReadStock(path, file)
}
