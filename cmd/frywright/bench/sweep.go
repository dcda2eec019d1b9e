package bench

import (
	"context"
	"fmt"
	"math/rand/v2"
	"strconv"
	"time"

	"frywright/store"
)

// sweeps is how often the fleet is swept.
const sweeps = 3

// sweep measures comparing everything that is known of the whole fleet with everything that is expected.
func (r *Run) sweep(ctx context.Context) (rows []Row, err error) {
	err = r.opened(ctx, func(s *store.Store, _ string) error {
		var full, bare []float64
		for range sweeps {
			began := time.Now()
			found, err := s.Sweep(r.Office(ctx))
			if err != nil {
				return err
			}
			full = append(full, float64(found.Settings)/time.Since(began).Seconds())
			if found.Fryers != r.Fryers || found.Amiss > 0 {
				return fmt.Errorf("%d of %d fryers were swept, %d of them are stored amiss", found.Fryers, r.Fryers, found.Amiss)
			}
			took, err := scan(found.Settings)
			if err != nil {
				return err
			}
			bare = append(bare, float64(found.Settings)/took.Seconds())
		}
		rows = []Row{{
			What: "sweep", Measure: "rate", Unit: "settings/s", Figure: median(full), Floor: median(bare), N: sweeps * r.Fryers, How: "as many texts in memory compared with as many others",
		}}
		return nil
	})
	return rows, err
}

// scan compares as many values in memory with as many others, one in ten of which differ, and gives how long that takes.
func scan(n int) (time.Duration, error) {
	rnd := rand.New(rand.NewPCG(1, 1))
	read, expected := make([]string, n), make([]string, n)
	for i := range read {
		v := rnd.IntN(500)
		read[i], expected[i] = strconv.Itoa(v), strconv.Itoa(v)
		if i%10 == 0 {
			read[i] = strconv.Itoa(v + 1)
		}
	}
	began, differ := time.Now(), 0
	for i := range read {
		if read[i] != expected[i] {
			differ++
		}
	}
	took := time.Since(began)
	if differ != (n+9)/10 {
		return 0, fmt.Errorf("the scan saw %d differences among %d values", differ, n) // it could have been left out as useless
	}
	return max(took, time.Nanosecond), nil
}
