package cause

import (
	"math"
	"math/big"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/integrate/quad"
	"gonum.org/v1/gonum/stat/combin"
	"gonum.org/v1/gonum/stat/distuv"
	"pgregory.net/rapid"
)

func logs(p ...float64) []float64 {
	for i := range p {
		p[i] = math.Log(p[i])
	}
	return p
}

// Eddy, D. M. (1982), "Probabilistic reasoning in clinical medicine", in Kahneman, Slovic and Tversky (eds.), Judgment
// under Uncertainty, in the round numbers in which Gigerenzer and Hoffrage (1995) and many textbooks reprint it: 1 % of
// the women are ill, the test finds 80 % of them and is wrongly positive for 9.6 % of the others. Published answer:
// 80 of 1,030, or 7.8 %.
func TestPosteriorAgreesWithThePublishedScreeningExample(t *testing.T) {
	p := posterior([]float64{0.01, 0.99}, logs(0.80, 0.096))
	assert.InDelta(t, 0.078, p[0], 0.0005)
	assert.InDelta(t, 80.0/1030, p[0], 0.0001)
	assert.InDelta(t, 1, p[0]+p[1], 1e-12)
}

func TestPriorsAreWeights(t *testing.T) {
	a, b := posterior([]float64{1, 99}, logs(0.80, 0.096)), posterior([]float64{0.01, 0.99}, logs(0.80, 0.096))
	assert.InDeltaSlice(t, a, b, 1e-12)
}

func betaBinomial(s share, n, k int) float64 {
	return float64(combin.Binomial(n, k)) * math.Exp(s.log(k, n-k))
}

// Boys among the first 12 children of 6,115 families of 13 in Saxony, 1876 to 1885 (Geissler 1889), the worked example
// of the encyclopedic article on the beta-binomial distribution: fitted by maximum likelihood with 34.09558 and 31.5715
// (these two from memory), logarithm of the likelihood -12492.9, and the fitted counts below.
func TestBetaBinomialAgreesWithThePublishedFamilies(t *testing.T) {
	families := []float64{3, 24, 104, 286, 670, 1033, 1343, 1112, 829, 478, 181, 45, 7}
	published := []float64{2.3, 22.6, 104.8, 310.9, 655.7, 1036.2, 1257.9, 1182.1, 853.6, 461.9, 177.9, 43.8, 5.2}
	boys := share{34.09558, 31.5715}
	likelihood := 0.0
	for k, n := range families {
		p := betaBinomial(boys, 12, k)
		assert.InDelta(t, published[k], 6115*p, 0.0501, "%d boys", k)
		likelihood += n * math.Log(p)
	}
	assert.InDelta(t, -12492.9, likelihood, 0.05)
}

// An urn with so many red and black balls, from which each ball drawn goes back with another of its colour (Pólya's
// urn), worked out in fractions.
func TestShareIsPolyasUrn(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		red, black := rapid.IntRange(1, 30).Draw(t, "red"), rapid.IntRange(1, 30).Draw(t, "black")
		drawn := rapid.SliceOfN(rapid.Bool(), 0, 30).Draw(t, "drawn")
		p, hits := big.NewRat(1, 1), 0
		for i, isRed := range drawn {
			balls := black + i - hits
			if isRed {
				balls = red + hits
				hits++
			}
			p.Mul(p, big.NewRat(int64(balls), int64(red+black+i)))
		}
		want, _ := p.Float64()
		got := math.Exp(share{float64(red), float64(black)}.log(hits, len(drawn)-hits))
		assert.InEpsilon(t, want, got, 1e-9)
	})
}

// The definition: a binomial distribution whose share follows a beta distribution, integrated by a general-purpose
// library over that library's own densities.
func TestShareIsABinomialOverABeta(t *testing.T) {
	for _, s := range []share{{2, 2}, {30, 2}, {3, 12.5}, {1, 1}} {
		beta := distuv.Beta{Alpha: s.hits, Beta: s.misses}
		for k := 0; k <= 11; k++ {
			want := quad.Fixed(func(p float64) float64 { return beta.Prob(p) * distuv.Binomial{N: 11, P: p}.Prob(float64(k)) }, 0, 1, 200, nil, 0)
			assert.InDelta(t, want, betaBinomial(s, 11, k), 1e-6, "%v, %d of 11", s, k)
		}
	}
}

func TestShareTendsToTheBinomial(t *testing.T) {
	const p, many = 0.3, 1e7
	for k := 0; k <= 20; k++ {
		assert.InDelta(t, distuv.Binomial{N: 20, P: p}.Prob(float64(k)), betaBinomial(share{p * many, (1 - p) * many}, 20, k), 1e-5)
	}
}

func TestSharesSumToOne(t *testing.T) {
	for _, s := range []share{factoryByHand, factoryAfterReset, factoryPutBack, factoryForeign, strays, fixedMisread, fixedForeign} {
		for _, n := range []int{0, 1, 3, 11, 45} {
			sum := 0.0
			for k := 0; k <= n; k++ {
				sum += betaBinomial(s, n, k)
			}
			assert.InDelta(t, 1, sum, 1e-9, "%v over %d", s, n)
		}
	}
}

func TestForeignSumsToOne(t *testing.T) {
	const n = 20
	sum := 0.0
	for fit := 0; fit <= n; fit++ {
		for stray := 0; stray <= n-fit; stray++ {
			ways := combin.Binomial(n, fit) * combin.Binomial(n-fit, stray)
			sum += float64(ways) * math.Exp(logForeign(fit, stray, n-fit-stray))
		}
	}
	assert.InDelta(t, 1, sum, 1e-9)
}
