package faults_test
import ("testing";"fmt";"context";"time"
 "boilwright/faults";"boilwright/sim";"boilwright/sim/boardfile";"boilwright/sim/circuit")
var _ sim.Editor = (*faults.Run)(nil)
func TestZZ(t *testing.T){
 for _, name := range boardfile.EmbeddedNames() {
  f, err := boardfile.Embedded(name); if err!=nil { t.Fatal(err) }
  b := f.Board
  for _, ft := range faults.Catalogue() {
   ch := 1; if ft.Scope == faults.PerBoard { ch = faults.WholeBoard } else if ch >= len(b.Channels) { ch = 0 }
   js := []faults.Injection{faults.New(ft.Name, ch)}
   for _, k := range ft.Keys { js = append(js, js[0].With(k.Name,k.Min), js[0].With(k.Name,k.Max)) }
   if ft.Graded { h := js[0]; h.Severity=0.01; js = append(js,h); h.Severity=0.5; js=append(js,h) }
   for _, j := range js {
    e, err := faults.Set{j}.Applied(b)
    if err != nil { fmt.Println(name, j, "APPLIED", err); continue }
    if err := boardfile.Check(e); err != nil { fmt.Println(name, j, "CHECK", err) }
    if _, err := circuit.New(e); err != nil { fmt.Println(name, j, "CIRCUIT", err) }
   }
  }
 }
}
func TestYY(t *testing.T){
  f, _ := boardfile.Embedded(boardfile.EmbeddedNames()[0]); b := f.Board
  if testing.Short() { return }
  for _, ft := range faults.Catalogue() {
   ch := 1; if ft.Scope == faults.PerBoard { ch = faults.WholeBoard }
   j := faults.New(ft.Name, ch); j.Onset.From = time.Minute
   r, err := faults.Set{j}.Start(1); if err != nil { t.Error(err); continue }
   t0 := time.Now()
   res, err := sim.Run(context.Background(), b, sim.Options{Duration: 3*time.Minute, Edits: r})
   if err != nil { fmt.Println(j, "RUN", err); continue }
   l := res.Samples[len(res.Samples)-1]
   fmt.Printf("%-28s %6v versions %d water %.1f el %.1f Tj %.1f\n", ft.Name, time.Since(t0).Round(time.Millisecond), res.Stats.Versions, l.Channels[1].Water, l.Channels[1].Element, l.Channels[1].Junction)
  }
}
