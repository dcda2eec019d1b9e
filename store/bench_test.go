package store_test

import (
	"context"
	"fmt"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"frywright/domain/access"
	"frywright/domain/intake"
	"frywright/store"

	"github.com/google/uuid"
	"github.com/stretchr/testify/require"
)

// importFiles makes files of sites, a sheet, a model and fryers.
func importFiles(fryers int) []intake.File {
	var sites, tags strings.Builder
	sites.WriteString("code,customer,name,zone,gas\n")
	tags.WriteString("tag,site,model,name\n")
	for i := range fryers/10 + 1 {
		fmt.Fprintf(&sites, "S-%05d,C-%02d,Restaurant %d,Europe/Dublin,natural\n", i, i%20, i)
	}
	for i := range fryers {
		fmt.Fprintf(&tags, "F-%06d,S-%05d,M-1,line %d\n", i, i/10, i%10)
	}
	sheet := "sheet,sheet_name,key,label,group,kind,unit,min,max,factory,scope,class\n"
	for i := range 40 {
		sheet += fmt.Sprintf("K-1,Kettle 1,setting-%d,Setting %d,Group %d,number,s,0,600,%d,controller,food\n", i, i, i/8, 10*i)
	}
	return []intake.File{
		{Name: "sheets.csv", Data: []byte(sheet)},
		{Name: "models.csv", Data: []byte("code,name,sheet,energy,pot\nM-1,Halver,K-1,gas,single\n")},
		{Name: "sites.csv", Data: []byte(sites.String())},
		{Name: "fryers.csv", Data: []byte(tags.String())},
	}
}

// BenchmarkImport imports a fleet of 20,000 fryers into an empty database, all in one transaction.
func BenchmarkImport(b *testing.B) {
	const fryers = 20_000
	files := importFiles(fryers)
	office := access.NewContext(context.Background(), access.Actor{System: true, Role: access.Administrator})
	for b.Loop() {
		b.StopTimer()
		clock := time.Date(2026, 11, 20, 9, 0, 0, 0, time.UTC)
		s, err := store.Open(office, store.Config{
			Path: filepath.Join(b.TempDir(), "import.db"), Now: func() time.Time { return clock }, NewID: func() uuid.UUID { return uuid.Must(uuid.NewV7()) },
		})
		require.NoError(b, err)
		b.StartTimer()
		plan, written, err := s.Import(office, files, false)
		require.NoError(b, err)
		require.True(b, written, "%v", plan.FileProblems)
		b.StopTimer()
		require.NoError(b, s.Close())
		b.StartTimer()
	}
	b.ReportMetric(float64(fryers*b.N)/b.Elapsed().Seconds(), "rows/s")
}
