package main

import (
	"maps"
	"path/filepath"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestPlateMacro draws a plate from the service's answers, opens the file anew
// and compares it with them; then another target moves the same dimensions, and
// a hole that was added by hand stays.
func TestPlateMacro(t *testing.T) {
	c := newCAD(t)
	exit, out := c.run(t, plateMacro)
	require.Zero(t, exit, out)
	require.Contains(t, out, "plate drawn: 3 axle holes, 4 standoff holes, 2 belts\n")
	require.Contains(t, out, "caution: belts and wheels draw fingers in") // what the service notes is said
	first := c.read(t)
	first.compare(t, c.layOut(t, wish(700), 0), 0)

	added := c.read(t, "BELTSPAN_ADD=1")
	exit, out = c.run(t, plateMacro, "BELTSPAN_TARGET_WHEELBASE_MM=810", "BELTSPAN_PICK=2")
	require.Zero(t, exit, out)
	second := c.read(t)
	second.compare(t, c.layOut(t, wish(810), 1), 1)
	assert.Equal(t, slices.Sorted(maps.Keys(added.Dimensions)), slices.Sorted(maps.Keys(second.Dimensions)))
	assert.Greater(t, second.Dimensions["axle_3_x"], first.Dimensions["axle_3_x"]+100)
	assert.Contains(t, second.Holes, [3]float64{100, -3, 3}, "at the height of axle 2, as it was bound")

	before := c.file(t)
	exit, out = c.run(t, plateMacro, "BELTSPAN_STANDOFF_LINES_MM=40")
	require.Equal(t, exitNoAnswer, exit, out)
	assert.Contains(t, out, "something was added to it by hand")
	assert.Equal(t, before, c.file(t))

	stopped := startProcess(t, nil)
	require.NoError(t, stopped.cmd.Process.Kill())
	_ = stopped.cmd.Wait() // it was killed
	exit, out = c.run(t, plateMacro, "BELTSPAN_URL="+stopped.rest)
	require.Equal(t, exitNoAnswer, exit, out)
	assert.Contains(t, out, "no answer from "+stopped.rest)
	assert.Equal(t, before, c.file(t))
}

// TestPlateMacroOtherRow: a row with other holes is drawn anew, with spans that
// are not parallel and axles that differ in height.
func TestPlateMacroOtherRow(t *testing.T) {
	c := newCAD(t)
	exit, out := c.run(t, plateMacro)
	require.Zero(t, exit, out)
	exit, out = c.run(t, plateMacro, "BELTSPAN_AXLE_COUNT=2", "BELTSPAN_WHEEL_DIAMETER_MM=160, 200", "BELTSPAN_DROP_MM=0", "BELTSPAN_AXLE_HOLE_MM=8",
		"BELTSPAN_PULLEY_TOOTH_COUNTS=32, 40", "BELTSPAN_TARGET_WHEELBASE_MM=400")
	require.Zero(t, exit, out)
	w := wish(400)
	w.Axles = w.Axles[1:]
	for i, diameter := range []float64{160, 200} {
		w.Axles[i].DropMm, w.Axles[i].HoleDiameterMm, w.Axles[i].WheelDiameterMm = 0, 8, diameter
	}
	w.Pulley.Values = []int32{32, 40}
	c.read(t).compare(t, c.layOut(t, w, 0), 0)
}

// TestPlateMacroRefused: whatever is wrong is said, the program fails, and the
// file stays as it was or is not made.
func TestPlateMacroRefused(t *testing.T) {
	c := newCAD(t)
	tests := []struct {
		name  string
		env   []string
		wants []string
	}{
		{"another protocol", []string{"BELTSPAN_URL=http://" + c.grpc}, []string{"no answer from"}},
		{"no address", []string{"BELTSPAN_URL=here"}, []string{"no answer from here"}},
		{"bad section and pulley", []string{"BELTSPAN_SECTION=H5Z", "BELTSPAN_PULLEY_TOOTH_COUNTS=3"}, []string{
			`sections[0] is "H5Z": no such section`, "\npulley.values[0] is 3: give a whole number from 6 to 600",
		}},
		{"no plan", []string{"BELTSPAN_TOLERANCE_MM=0.001"}, []string{"no plan meets the conditions", "needs tolerance_mm of at least"}},
		{"no number", []string{"BELTSPAN_TARGET_WHEELBASE_MM=long"}, []string{"target_wheelbase_mm is 'long': give a number"}},
		{"not finite", []string{"BELTSPAN_TARGET_WHEELBASE_MM=nan"}, []string{"target_wheelbase_mm is 'nan': give a number"}},
		{"no list", []string{"BELTSPAN_DROP_MM=1, 2"}, []string{"drop_mm is '1, 2': give one number, or one for each of the 3 axles"}},
		{"no hole", []string{"BELTSPAN_AXLE_HOLE_MM=0"}, []string{"axle 1 has no hole"}},
	}
	for _, tt := range tests {
		t.Run(tt.name, func(t *testing.T) {
			exit, out := c.run(t, plateMacro, tt.env...)
			require.Equal(t, exitNoAnswer, exit, out)
			assert.NotContains(t, out, "plate drawn:")
			assert.NotContains(t, out, "Traceback")
			for _, want := range append(tt.wants, "no plate drawn") {
				assert.Contains(t, out, want)
			}
			assert.NoFileExists(t, filepath.Join(c.dir, "plate.FCStd"))
		})
	}
}

// useDialog stands for the user of the window: it types a section that is not
// there, reads what is said, mends it, and picks the second plan.
const useDialog = `
import os
import FreeCAD
from PySide import QtCore, QtGui
app = QtGui.QApplication([])
FreeCAD.GuiUp = 1
def use():
    window = QtGui.QApplication.activeModalWidget()
    if isinstance(window, QtGui.QInputDialog):
        window.setTextValue(window.comboBoxItems()[1])
    elif isinstance(window, QtGui.QMessageBox):
        print("SAYS", window.text())
    elif window is not None:
        fields = {field.text(): field for field in window.findChildren(QtGui.QLineEdit)}
        if "H5M" in fields:
            fields["H5M"].setText("H5Z")
            fields["http://127.0.0.1:8017"].setText(os.environ["BELTSPAN_URL"])
        else:
            fields["H5Z"].setText("H5M")
    if window is not None:
        window.accept()
timer = QtCore.QTimer()
timer.timeout.connect(use)
timer.start(50)
exec(compile(open("freecad_plate.FCMacro").read(), "freecad_plate.FCMacro", "exec"), {"__name__": "__main__"})
FreeCAD.ActiveDocument.saveAs("plate.FCStd")
print("DIALOG-USED")
`

// TestPlateMacroDialog uses the macro's windows.
func TestPlateMacroDialog(t *testing.T) {
	c := newCAD(t)
	exit, out := c.run(t, "use_dialog.py")
	require.Zero(t, exit, out)
	require.Contains(t, out, "DIALOG-USED")
	assert.Contains(t, out, `SAYS sections[0] is "H5Z": no such section`)
	c.read(t).compare(t, c.layOut(t, wish(700), 1), 0)
}
