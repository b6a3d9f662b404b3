"""How the API describes itself: operations, examples, sign-in schemes and the last touches to
openapi.yaml.
"""
