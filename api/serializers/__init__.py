"""Input serializers (strict) and output serializers (they drive openapi.yaml), by resource."""
