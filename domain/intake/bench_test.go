package intake_test

import (
	"bytes"
	"fmt"
	"testing"

	"frywright/domain/intake"

	"github.com/stretchr/testify/require"
)

const fleetSize = 100_000

// largeFleet writes a file of 100,000 fryers over 2,000 sites, and the file of its sites.
func largeFleet() []intake.File {
	var sites, fryers, standards bytes.Buffer
	sites.WriteString("code,customer,name,zone\n")
	for i := range 2000 {
		fmt.Fprintf(&sites, "S-%d,BRIM,Site %d,Europe/Dublin\n", i, i)
	}
	fryers.WriteString("tag,site,model,name,serial,installed,note\n")
	standards.WriteString("level,of,sheet,key,vat,value,why\n")
	for i := range fleetSize {
		fmt.Fprintf(&fryers, "OT-%06d,S-%d,FM-G,\"line %d, left\",SN%d,2024-03-%02d,\n", i, i%2000, i%4, i, i%28+1)
		fmt.Fprintf(&standards, "fryer,OT-%06d,TL-4,cook,,%d,crisper\n", i, 300+i%50)
	}
	return []intake.File{
		{Name: "fryers.csv", Data: fryers.Bytes()}, {Name: "sites.csv", Data: sites.Bytes()},
		{Name: "standards.csv", Data: standards.Bytes()},
	}
}

// BenchmarkMake takes 100,000 fryers and as many standards: as new ones, and when all is known already.
func BenchmarkMake(b *testing.B) {
	files := largeFleet()
	w := filled(b)
	for name, part := range map[string][]intake.File{"fryers": files[:2], "fryers and standards": files} {
		b.Run(name+", new", func(b *testing.B) {
			for b.Loop() {
				require.Zero(b, intake.Make(part, w.Known).Problems)
			}
		})
	}
	plan := intake.Make(files[:2], w.Known)
	w.takeFleet(plan)
	b.Run("fryers, known", func(b *testing.B) {
		for b.Loop() {
			require.Empty(b, intake.Make(files[:2], w.Known).Drafts)
		}
	})
	b.Run("fryers, every row wrong", func(b *testing.B) {
		wrong := []intake.File{{Name: "fryers.csv", Data: bytes.ReplaceAll(files[0].Data, []byte("\"line"), []byte("\"x\"y"))}}
		for b.Loop() {
			require.Equal(b, fleetSize, intake.Make(wrong, w.Known).Problems)
		}
	})
}
