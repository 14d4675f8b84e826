// Command dunlin-fhir-check reads FHIR R4 resources with a validator that is not ours
// and says what is wrong with each. It is a module of its own, so that the validator
// with its generated code never becomes part of the product.
//
// Use: dunlin-fhir-check FILE...   each file holds one or several JSON documents
//
// Exit 0: all are valid. Exit 1: at least one is not. Exit 2: a file cannot be read.
package main

import (
	"encoding/json"
	"errors"
	"fmt"
	"io"
	"os"

	"github.com/google/fhir/go/fhirversion"
	"github.com/google/fhir/go/jsonformat"
)

func main() {
	os.Exit(run(os.Args[1:], os.Stdout))
}

func run(files []string, out io.Writer) int {
	u, err := jsonformat.NewUnmarshaller("UTC", fhirversion.R4)
	if err != nil || len(files) == 0 {
		fmt.Fprintln(out, "name the files to check", err)
		return 2
	}
	valid, wrong := 0, 0
	for _, name := range files {
		f, err := os.Open(name)
		if err != nil {
			fmt.Fprintln(out, err)
			return 2
		}
		dec := json.NewDecoder(f)
		for n := 1; ; n++ {
			var doc json.RawMessage
			if err := dec.Decode(&doc); errors.Is(err, io.EOF) {
				break
			} else if err != nil {
				fmt.Fprintf(out, "%s: document %d: %v\n", name, n, err)
				return 2
			}
			if _, err := u.Unmarshal(doc); err != nil {
				wrong++
				fmt.Fprintf(out, "%s: document %d: %v\n", name, n, err)
				continue
			}
			valid++
		}
		f.Close()
	}
	fmt.Fprintf(out, "%d valid, %d not\n", valid, wrong)
	if wrong > 0 {
		return 1
	}
	return 0
}
