package demo

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestVariantsAreWhole(t *testing.T) {
	for _, variant := range Variants {
		assert.NotEmpty(t, Describe(variant))
		search, err := Search(variant)
		require.NoError(t, err)
		layout, err := LayOut(variant)
		require.NoError(t, err)
		require.Equal(t, len(search.Axles), len(layout.Base.Axles))
		for i := range search.Axles {
			assert.Equal(t, search.Axles[i].String(), layout.Base.Axles[i].String(), "both files describe one base")
		}
		assert.Equal(t, search.GetBeltWidthMm(), layout.Base.BeltWidthMm)
	}
	for _, name := range []string{"", "e", "../a", "A"} {
		_, err := Search(name)
		require.ErrorContains(t, err, "give a, b, c, d")
		_, err = LayOut(name)
		require.Error(t, err)
	}
}
