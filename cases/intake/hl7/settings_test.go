package hl7

import "dunlin/cases/intake"

var settings intake.Settings
