package intake

// For the tests of the published values.
var JaroWinkler = jaroWinkler

func Jaro(a, b string) float64 { return jaro([]rune(a), []rune(b)) }
