package server

import (
	"encoding/json"
	"reflect"
	"testing"

	"github.com/stretchr/testify/require"
)

// freeBody has a field in which anything may stand, as a list's file has.
type freeBody struct {
	signature
	New  string          `json:"new_pin"`
	Free json.RawMessage `json:"free"`
	Each []struct {
		Name *string `json:"name"`
	} `json:"each"`
}

// What is sent once more is known by a digest of what the body says, so it may not
// depend on by which way it was read, nor change with a later version of this.
func TestPlainBodySaysWhatOneReadIntoAMapSays(t *testing.T) {
	for body, want := range map[string]string{
		`{}`: `{}`,
		` { "pin" : "4711" , "free" : [ ] , "new_pin":"4712"} ` + "\r\n\t":             `{"free":[]}`,
		`{"each":[{"name":"b"} , {"name":null},{},null],"pin":"4711"}`:                 `{"each":[{"name":"b"},{"name":null},{},null]}`,
		`{"free":{"b":1,"a":{"d":[true,false,null],"c":""}},"each":null}`:              `{"each":null,"free":{"a":{"c":"","d":[true,false,null]},"b":1}}`,
		`{"free":{"pin":"2","new_pin":"1"}}`:                                           `{"free":{"new_pin":"1","pin":"2"}}`,
		`{"free":[0,-0,0.0,7,12.50,-3e2,1E3,1e20,123456789012345678901,1e-6]}`:         `{"free":[0,-0,0,7,12.5,-300,1000,100000000000000000000,123456789012345680000,0.000001]}`,
		`{"free":[1e21,1e-7,1e-10,5e-324,1.7976931348623157e308,-1e+30]}`:              `{"free":[1e+21,1e-7,1e-10,5e-324,1.7976931348623157e+308,-1e+30]}`,
		`{"free":["planché","木","a\u0062c","\"\\\/\n","<b>&"," ` + "\u007f" + `"]}`:    `{"free":["planché","木","abc","\"\\/\n","\u003cb\u003e\u0026"," ` + "\u007f" + `"]}`,
		`{"free":["` + "\u2028\u2029" + `","\ud83d\ude00","\ud800","` + "\xff" + `"]}`: `{"free":["\u2028\u2029","😀","` + "\ufffd" + `","` + "\ufffd" + `"]}`,
		`{"free":{"é":1,"e":[[[[{"z":{},"y":[{}]}]]]]}}`:                               `{"free":{"e":[[[[{"y":[{}],"z":{}}]]]],"é":1}}`,
	} {
		said, ok := plainly([]byte(body), shapeOf(reflect.TypeFor[freeBody]()))
		require.True(t, ok, "%s", body)
		require.Equal(t, want, string(said), "%s", body)
		var c call
		_, err := takeOdd[freeBody](&c, []byte(body), shapeOf(reflect.TypeFor[freeBody]()))
		require.NoError(t, err, "%s", body)
		require.Equal(t, want, string(c.sent), "%s", body)
	}
}

// What is odd about a body goes the long way, which refuses it or says what it makes
// of it.
func TestOddBodyIsNotPlain(t *testing.T) {
	for _, body := range []string{
		`{"PIN":"4711"}`, `{"pin":"4711","pin":"4712"}`, `{"each":[{"name":"a","name":"b"}]}`, `{"each":[{"Name":"a"}]}`, `{"each":[{"nothing":1}]}`, `{"nothing":{}}`,
		`{"free":{"a":1,"b":2,"a":3}}`, `{"free":{"a\u0062":1}}`, `{"free":{"<":1}}`, `{"free":1e400}`, `{"p\u0069n":"4711"}`, `null`, `[]`, `"pin"`,
	} {
		_, ok := plainly([]byte(body), shapeOf(reflect.TypeFor[freeBody]()))
		require.False(t, ok, "%s", body)
	}
}

// A type may have one of its own kind within.
func TestShapeOfATypeWithinItself(t *testing.T) {
	type tree struct {
		Of []*struct {
			Name string `json:"name"`
		} `json:"of"`
	}
	type node struct {
		tree
		Within []*node `json:"within"`
		Hidden string  `json:"-"`
	}
	s := shapeOf(reflect.TypeFor[node]())
	require.Same(t, s, shapeOf(reflect.TypeFor[node]()))
	_, ok := plainly([]byte(`{"within":[{"within":[{"of":[{"name":"x"}]}]}]}`), s)
	require.True(t, ok)
	_, ok = plainly([]byte(`{"within":[{"within":[{"of":[{"nome":"x"}]}]}]}`), s)
	require.False(t, ok)
	_, ok = plainly([]byte(`{"Hidden":""}`), s)
	require.False(t, ok)
}
