package heat
import ("testing";"pgregory.net/rapid";"boilwright/models";"time")
func TestDbg(t *testing.T) {
	g := rapid.Custom(func(t *rapid.T) *models.Board { return drawBoard(t,3) })
	for seed := range 30 {
	b := g.Example(seed)
	m := mustNew(t, b)
	p := Powers{Element:[]float64{0,900,0}}
	t0:=time.Now()
	r, err := m.Coast(0, 600, p)
	if err != nil { t.Fatal(err) }
	d1:=time.Since(t0)
	m = mustNew(t, b)
	t0=time.Now()
	for k:=range 600 { if _,err:=m.Window(float64(k),1,constant(1,p)); err!=nil {t.Fatal(err)} }
	t.Log(seed,d1, len(r.Events), time.Since(t0), m.span)
	}
}
