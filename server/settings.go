package main

import (
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"os"
	"reflect"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// setting is one value of the settings. Its place in the file names its flag and its
// variable too: mailbox.max_mb is --mailbox-max-mb and DUNLIN_MAILBOX_MAX_MB.
type setting struct {
	name  string // in the file, dots between the levels
	index []int  // of the field of config
	kind  reflect.Type
}

func (s setting) flag() string {
	return strings.NewReplacer(".", "-", "_", "-").Replace(s.name)
}

func (s setting) variable() string {
	return variablePrefix + strings.ToUpper(strings.ReplaceAll(s.name, ".", "_"))
}

const variablePrefix = "DUNLIN_"

// protocolSetting is given by flag and variable as the path of a file: it is long, and
// signed by clinicians.
const protocolSetting = "protocol"

// allSettings lists every setting in the order of the file.
var allSettings = sync.OnceValue(func() []setting {
	return listSettings(reflect.TypeFor[config](), "", nil)
})

func listSettings(t reflect.Type, prefix string, index []int) (out []setting) {
	for i := range t.NumField() {
		f := t.Field(i)
		name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
		if !f.IsExported() || name == "-" || name == "" {
			continue
		}
		at := append(slices.Clone(index), i)
		if f.Type.Kind() == reflect.Struct && !readsItself(f.Type) {
			out = append(out, listSettings(f.Type, prefix+name+".", at)...)
			continue
		}
		out = append(out, setting{prefix + name, at, f.Type})
	}
	return out
}

// readsItself tells a type that has a form of its own in the file.
func readsItself(t reflect.Type) bool {
	return reflect.PointerTo(t).Implements(reflect.TypeFor[json.Unmarshaler]())
}

// set reads the text of a flag or a variable. A list is separated by commas or written
// as JSON; what has members is JSON.
func (s setting) set(c *config, text string) error {
	v := reflect.ValueOf(c).Elem().FieldByIndex(s.index)
	if s.name == protocolSetting {
		data, err := os.ReadFile(text)
		if err != nil {
			return err
		}
		c.Protocol = data
		return nil
	}
	switch v.Kind() {
	case reflect.String:
		v.SetString(text)
	case reflect.Bool:
		b, err := strconv.ParseBool(text)
		if err != nil {
			return fmt.Errorf("%q must be true or false", text)
		}
		v.SetBool(b)
	case reflect.Int, reflect.Int64:
		n, err := strconv.ParseInt(text, 10, 64)
		if err != nil {
			return fmt.Errorf("%q must be a whole number", text)
		}
		v.SetInt(n)
	default:
		return setJSON(v, text)
	}
	return nil
}

func setJSON(v reflect.Value, text string) error {
	if v.Type() == reflect.TypeFor[[]string]() && !strings.HasPrefix(strings.TrimSpace(text), "[") {
		var list []string
		for part := range strings.SplitSeq(text, ",") {
			if part = strings.TrimSpace(part); part != "" {
				list = append(list, part)
			}
		}
		v.Set(reflect.ValueOf(list))
		return nil
	}
	if !json.Valid([]byte(text)) { // a name, such as no10
		quoted, err := json.Marshal(text)
		if err != nil {
			return err
		}
		text = string(quoted)
	}
	fresh := reflect.New(v.Type()) // a map given here takes the place of the one before
	if err := json.Unmarshal([]byte(text), fresh.Interface()); err != nil {
		return err
	}
	v.Set(fresh.Elem())
	return nil
}

// fromVariables takes what DUNLIN_* variables say.
func (c *config) fromVariables() error {
	var errs []error
	for _, s := range allSettings() {
		if text, ok := os.LookupEnv(s.variable()); ok {
			if err := s.set(c, text); err != nil {
				errs = append(errs, fmt.Errorf("%s: %w", s.variable(), err))
			}
		}
	}
	return errors.Join(errs...)
}

// strayVariables names DUNLIN_* variables that are no setting: a slip of the pen there
// would go unnoticed otherwise.
func strayVariables() (out []string) {
	known := []string{variablePrefix + "CONFIG", mailboxPasswordVariable, smtpPasswordVariable, oidcSecretVariable}
	for _, s := range allSettings() {
		known = append(known, s.variable())
	}
	for _, e := range os.Environ() {
		name, _, _ := strings.Cut(e, "=")
		if strings.HasPrefix(name, variablePrefix) && !slices.Contains(known, name) {
			out = append(out, name)
		}
	}
	slices.Sort(out)
	return out
}

// settingFlag is the value of a setting's flag: it is kept until file and variables are
// read, since flags win.
type settingFlag struct {
	setting
	given map[string]string
	quiet bool // left out of the command's own help
}

func (f *settingFlag) String() string { return "" }

func (f *settingFlag) IsBoolFlag() bool {
	return f.setting.kind != nil && f.kind.Kind() == reflect.Bool
}

func (f *settingFlag) Set(text string) error {
	scratch := defaultConfig()
	f.given[f.name] = text
	return f.set(&scratch, text) // so that what cannot be read is said with the flag
}

// addSettingFlags gives a command the flags of settings: those named stand in its help,
// and with all the others work too.
func addSettingFlags(fs *flag.FlagSet, named []string, all bool) (given map[string]string) {
	given = map[string]string{}
	for _, s := range allSettings() {
		loud := slices.Contains(named, s.flag())
		if loud || all {
			fs.Var(&settingFlag{s, given, !loud}, s.flag(), s.help())
		}
	}
	return given
}

// help is what the setting does, with its default.
func (s setting) help() string {
	words := settingWords[s.name]
	if d := s.defaultText(); d != "" {
		words += " (default " + d + ")"
	}
	return words
}

// defaultText is the default as it is written, "" for none.
func (s setting) defaultText() string {
	v := reflect.ValueOf(ptr(defaultConfig())).Elem().FieldByIndex(s.index)
	if v.IsZero() {
		return ""
	}
	if v.Kind() == reflect.Struct {
		return "see dunlin config"
	}
	if v.Kind() == reflect.String {
		return v.String()
	}
	text, err := json.Marshal(v.Interface())
	if err != nil {
		return ""
	}
	return string(text)
}

// applyFlags takes what flags said.
func (c *config) applyFlags(given map[string]string) error {
	var errs []error
	for _, s := range allSettings() {
		text, ok := given[s.name]
		if !ok {
			continue
		}
		if err := s.set(c, text); err != nil {
			errs = append(errs, fmt.Errorf("--%s: %w", s.flag(), err))
		}
	}
	return errors.Join(errs...)
}
