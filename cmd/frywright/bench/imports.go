package bench

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math/rand/v2"
	"strings"
	"time"

	"frywright/domain/intake"
	"frywright/store"
)

// imports measures taking in files with as many rows as the fleet has fryers, a tenth of them restaurants, into an empty
// database, and the same files again, of which nothing is new.
func (r *Run) imports(ctx context.Context) ([]Row, error) {
	files := r.files()
	var fresh, again time.Duration
	err := r.scratch(func(folder string) (err error) {
		s, err := r.Open(folder)
		if err != nil {
			return err
		}
		defer func() { err = errors.Join(err, s.Close()) }()
		if _, err := r.importOnce(ctx, s, kitFiles()); err != nil {
			return err
		}
		if fresh, err = r.importOnce(ctx, s, files); err != nil {
			return err
		}
		again, err = r.importOnce(ctx, s, files)
		return err
	})
	if err != nil {
		return nil, err
	}
	bare, err := r.bareInserts(ctx)
	if err != nil {
		return nil, err
	}
	rate := func(took time.Duration) float64 { return float64(r.Fryers) / took.Seconds() }
	const how = "bare inserts of as many rows in one transaction"
	return []Row{
		{What: "import", Measure: "rate", Unit: "rows/s", Figure: rate(fresh), Floor: rate(bare), N: r.Fryers, How: how},
		{What: "import again, unchanged", Measure: "rate", Unit: "rows/s", Figure: rate(again), Floor: rate(bare), N: r.Fryers, How: how},
	}, nil
}

// importOnce imports files as the command does, and gives how long it took.
func (r *Run) importOnce(ctx context.Context, s *store.Store, files []intake.File) (time.Duration, error) {
	began := time.Now()
	plan, written, err := s.Import(r.Office(ctx), files, false)
	took := time.Since(began)
	if err == nil && !written {
		err = fmt.Errorf("nothing was written: %d problems", plan.Problems)
	}
	return took, err
}

// kitFiles are the controller type and the model of what is imported.
func kitFiles() []intake.File {
	return []intake.File{
		{Name: "sheets.csv", Data: []byte("sheet,sheet_name,key,label,group,kind,unit,min,max,step,factory,scope,class,tolerance\n" +
			"TARN,Tarnhook Four,setpoint,Fry setpoint,Frying,number,°F,200,375,1,350,vat,food,1\n")},
		{Name: "models.csv", Data: []byte("code,name,sheet,energy,pot\nTARN-1,Halver Low,TARN,gas,single\n")},
	}
}

// files are a fleet as files to import.
func (r *Run) files() []intake.File {
	rnd := rand.New(rand.NewPCG(r.Seed, 9))
	n := r.Fryers / 10
	var sites, fryers strings.Builder
	sites.WriteString("code,customer,customer_name,name,town,area,zone,gas\n")
	for i := range n {
		town, c := townName(rnd), i%mostCustomers
		fmt.Fprintf(&sites, "R%05d,C%02d,%s,%s %s,%s,%s,%s,natural\n", i, c, customerName(c), firstWord(customerName(c)), town, town, areaName(i%40), zones[i%len(zones)].zone)
	}
	fryers.WriteString("tag,site,model,name,serial,installed\n")
	for i := range r.Fryers - n {
		fmt.Fprintf(&fryers, "TM-%06d,R%05d,TARN-1,\"%s\",TARN%08X,2024-03-%02d\n", i, i%n, pick(rnd, stands), rnd.Uint32(), 1+i%28)
	}
	return []intake.File{{Name: "sites.csv", Data: []byte(sites.String())}, {Name: "fryers.csv", Data: []byte(fryers.String())}}
}

// bareInserts gives how long bare inserts of as many rows take.
func (r *Run) bareInserts(ctx context.Context) (took time.Duration, err error) {
	err = r.bareDatabase(func(db *sql.DB) error {
		_, err := db.ExecContext(ctx, `CREATE TABLE bare (id TEXT PRIMARY KEY, tag TEXT NOT NULL, site TEXT NOT NULL, model TEXT NOT NULL,
			name TEXT NOT NULL, serial TEXT NOT NULL, installed TEXT NOT NULL) STRICT, WITHOUT ROWID`)
		if err != nil {
			return err
		}
		began := time.Now()
		err = r.insertAll(ctx, db)
		took = time.Since(began)
		return err
	})
	return took, err
}

func (r *Run) insertAll(ctx context.Context, db *sql.DB) error {
	t, err := db.BeginTx(ctx, nil)
	if err != nil {
		return err
	}
	defer t.Rollback() //nolint:errcheck // after a commit there is nothing to roll back
	insert, err := t.PrepareContext(ctx, `INSERT INTO bare VALUES (?, ?, ?, ?, ?, ?, ?)`)
	if err != nil {
		return err
	}
	defer insert.Close() //nolint:errcheck // it ends with the transaction
	for i := range r.Fryers {
		tag := fmt.Sprintf("TM-%06d", i)
		if _, err := insert.ExecContext(ctx, r.NewID().String(), tag, tag, "TARN-1", stands[i%len(stands)], tag, "2024-03-01"); err != nil {
			return err
		}
	}
	return t.Commit()
}
