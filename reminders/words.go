package reminders

// OrderRule is printed under the list.
const OrderRule = "Urgent classes come first, then the most days late, then the older infant, then the reference. " +
	"What is due today comes last in its class. Twins stand together at the place of the earlier one."

// Class says an urgency class in words; "" for the ordinary class.
func Class(urgency int) string {
	switch urgency {
	case 3:
		return "Presumptive CF, or a value in the CF range"
	case 2:
		return "A value does not fit, or is just below the CF range"
	}
	return ""
}
