// Package api holds the contract of the service as documents; its Go code is in
// the packages below.
package api

import _ "embed"

// OpenAPI is the contract of REST as an OpenAPI 2.0 document in JSON.
//
//go:embed openapi.swagger.json
var OpenAPI []byte
