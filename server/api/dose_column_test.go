package api_test

import (
	"reflect"
	"testing"

	"github.com/stretchr/testify/assert"

	"example.org/rootward/server/api"
	"example.org/rootward/server/treatment"
)

// Doses are listed once if all of their fields are equal, those that were added later, too.
func TestDosesThatDifferInOneFieldDiffer(t *testing.T) {
	var a, b treatment.Dose
	assert.True(t, api.SameDose(&a, &b))
	for i := range reflect.TypeFor[treatment.Dose]().NumField() {
		one := treatment.Dose{}
		field := reflect.ValueOf(&one).Elem().Field(i)
		if field.Kind() == reflect.Bool {
			field.SetBool(true)
		} else {
			field.SetInt(1 << 62)
		}
		assert.False(t, api.SameDose(&a, &one), reflect.TypeFor[treatment.Dose]().Field(i).Name)
		assert.False(t, api.SameDose(&one, &a), reflect.TypeFor[treatment.Dose]().Field(i).Name)
		same := one
		assert.True(t, api.SameDose(&one, &same))
	}
}
